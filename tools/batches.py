#!/usr/bin/env python3
"""Which sources clang-tidy can look at together: tools/tidy_batches.py MOST SOURCE...

Most of its time goes into headers, so several sources in one unit, each included behind the other, cost little more than one.
But what a source keeps to itself, in an unnamed namespace, is then seen by those behind it. So two sources share a unit only if
no name of the one's unnamed namespaces is one of the other's, or is called or made there. Prints a line for each unit, its sources apart by a
semicolon, at most MOST of them.
"""
import pathlib
import re
import sys

UNNAMED = re.compile(r"^namespace \{$(.*?)^\} // namespace$", re.MULTILINE | re.DOTALL)
# A definition begins in the first column: a function, a type or a constant.
DEFINED = re.compile(r"^(?=[\w\[])(?:[\w:<>,*&\[\]\" ]+[ *&>])?(\w+)(?:\(|<|\{| =| \{|;| :)", re.MULTILINE)
TEMPLATE = re.compile(r"^(?:template <[^{}]*?>\s|requires [^\n]*\n)+", re.MULTILINE)
# A word that is neither a member nor qualified, and begins a call, a template's arguments or a value.
CALLED = re.compile(r"(?<![\w.:>])(\w+)(?=[(<{])")
KEYWORDS = {"if", "for", "while", "switch", "return", "namespace", "using", "template", "public", "private", "requires", "else"}


def local_names(text):
    names = set()
    for part in UNNAMED.findall(text):
        names.update(DEFINED.findall(TEMPLATE.sub("", part)))
    return names - KEYWORDS


def batches(most, sources):
    texts = {source: pathlib.Path(source).read_text() for source in sources}
    names = {source: local_names(text) for source, text in texts.items()}
    used = {source: names[source] | set(CALLED.findall(text)) for source, text in texts.items()}
    units = []
    for source in sources:
        for unit in units:
            if len(unit) < most and all(names[source].isdisjoint(used[other]) and names[other].isdisjoint(used[source]) for other in unit):
                unit.append(source)
                break
        else:
            units.append([source])
    return units


if __name__ == "__main__":
    for unit in batches(int(sys.argv[1]), sys.argv[2:]):
        print(";".join(unit))
