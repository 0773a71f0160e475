#!/usr/bin/env python3
"""Which sources can be compiled as one, or looked at by clang-tidy: tools/batches.py MOST SOURCE...

Most of the time goes into headers, so several sources in one unit, each included behind the other, cost little more than one. But
what a source keeps to itself, in an unnamed namespace, is then seen by those behind it. So two sources share a unit only if no name
of the one's unnamed namespaces stands anywhere in the other: not even as a local name, for that would hide it (-Wshadow). A source
that opens a namespace other than our own is the last of its unit. Prints a line for each unit, its sources apart by a semicolon, at
most MOST of them.
"""
import pathlib
import re
import sys

UNNAMED = re.compile(r"^namespace \{$(.*?)^\} // namespace$", re.MULTILINE | re.DOTALL)
# A definition begins in the first column: a function, a type or a constant.
DEFINED = re.compile(r"^(?=[\w\[])(?:[\w:<>,*&\[\]\" ]+[ *&>])?(\w+)(?:\(|<|\{| =| \{|;| :)", re.MULTILINE)
# constexpr double first = 1, second = 2;
CONSTANTS = re.compile(r"^(?:constexpr|const) [^;]*;", re.MULTILINE)
TEMPLATE = re.compile(r"^(?:template <[^{}]*?>\s|requires [^\n]*\n)+", re.MULTILINE)
OPENED = re.compile(r"^using namespace (?!needleturn)", re.MULTILINE)
# A word that is neither a member nor qualified.
WORD = re.compile(r"(?<![\w.:>])([A-Za-z_]\w*)")
NO_CODE = re.compile(r'//[^\n]*|"(?:\\.|[^"\\\n])*"')
KEYWORDS = {"if", "for", "while", "switch", "return", "namespace", "using", "template", "public", "private", "requires", "else", "int"}
# `namespace fs = std::filesystem;` may stand twice in a unit.
ALIASES = {"fs"}


def local_names(text):
    names = set()
    for part in UNNAMED.findall(text):
        names.update(DEFINED.findall(TEMPLATE.sub("", part)))
        for constants in CONSTANTS.findall(part):
            names.update(re.findall(r", (\w+) = ", constants))
    return names - KEYWORDS - ALIASES


def batches(most, sources):
    texts = {source: pathlib.Path(source).read_text() for source in sources}
    names = {source: local_names(text) for source, text in texts.items()}
    used = {source: set(WORD.findall(NO_CODE.sub("", text))) for source, text in texts.items()}

    def agree(one, other):
        return names[one].isdisjoint(used[other]) and names[other].isdisjoint(used[one])

    opens = {source: bool(OPENED.search(text)) for source, text in texts.items()}
    # Those first that fewest others agree with: fewer units are left with little in them.
    clashes = {source: sum(not agree(source, other) for other in sources) for source in sources}
    units = []
    for source in sorted(sources, key=lambda source: (opens[source], -clashes[source])):
        for unit in units:
            if len(unit) < most and not opens[unit[-1]] and all(agree(source, other) for other in unit):
                unit.append(source)
                break
        else:
            units.append([source])
    return units


if __name__ == "__main__":
    for unit in batches(int(sys.argv[1]), sys.argv[2:]):
        print(";".join(unit))
