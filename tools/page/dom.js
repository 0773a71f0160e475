// Elements in one line.
const svgSpace = "http://www.w3.org/2000/svg";

function fill(element, attributes, children) {
    for (const [name, value] of Object.entries(attributes ?? {})) {
        if (value === undefined || value === null || value === false) continue;
        if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
        else element.setAttribute(name, value === true ? "" : value);
    }
    element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
    return element;
}

/**
 * @param {string} tag of the element
 * @param {object} [attributes] `on...` are listeners; undefined, null and false leave one out
 * @param {...*} children elements, texts, or lists of them; null and undefined are left out
 * @returns {HTMLElement} the element
 */
export const html = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);

/**
 * @param {string} tag of the element
 * @param {object} [attributes] as of html()
 * @param {...*} children as of html()
 * @returns {SVGElement} the element
 */
export const svg = (tag, attributes, ...children) =>
    fill(document.createElementNS(svgSpace, tag), attributes, children);
