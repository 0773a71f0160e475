// Keys of the whole page, which work wherever nothing is being typed.

/**
 * @param {object} does what keys do: run(), undo()
 */
export function listenToKeys({ run, undo }) {
    addEventListener("keydown", (event) => {
        const at = event.target;
        const typing =
            /^(SELECT|TEXTAREA)$/.test(at.tagName) ||
            event.ctrlKey ||
            event.metaKey ||
            event.altKey ||
            document.querySelector("dialog[open]");
        if (typing) return;
        if (event.key === " " && !/^(BUTTON|SUMMARY|A|INPUT)$/.test(at.tagName)) {
            event.preventDefault();
            run();
        } else if (event.key === "u" || event.key === "U") undo();
        else if (/^[0-4]$/.test(event.key)) document.querySelectorAll('input[name="speed"]')[Number(event.key)].click();
    });
}
