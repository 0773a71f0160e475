// Colours from the style sheet for what is drawn on a canvas, and how lines are told apart: by dash as well as by hue.

/**
 * Lengths of dashes and gaps, drawing units, by which lines are told apart as well as by hue.
 */
export const dashes = [[], [7, 4], [2, 3], [9, 3, 2, 3], [4, 4], [1, 4]];

/**
 * @param {string} name of a colour of the style sheet
 * @returns {string} the colour
 */
export const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

/**
 * @param {number} index of a line
 * @returns {{color: string, dash: number[]}} name of its colour, its dashes
 */
export const line = (index) => ({ color: `line-${index % 6}`, dash: dashes[index % dashes.length] });
