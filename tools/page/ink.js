// Colours from the style sheet for what is drawn on a canvas, and how lines are told apart: by dash as well as by hue.
export const dashes = [[], [7, 4], [2, 3], [9, 3, 2, 3], [4, 4], [1, 4]];
export const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
export const line = (index) => ({ color: `line-${index % 6}`, dash: dashes[index % dashes.length] });
