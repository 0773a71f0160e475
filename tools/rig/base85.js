// Bytes as text of a page: five of 85 letters for four bytes, a sixteenth less than base64 takes. The letters are those
// of ASCII that mean nothing in a script's string, in HTML or in a replacement.
const letters = Array.from({ length: 94 }, (_, i) => String.fromCharCode(33 + i)).filter(
    (letter) => !"\"'`\\<>&$-".includes(letter),
);

/**
 * @param {Uint8Array} bytes any number of them
 * @returns {string} their number, a colon, and the letters
 */
export function encoded(bytes) {
    const parts = [];
    for (let at = 0; at < bytes.length; at += 4) {
        let number = 0;
        for (let i = 0; i < 4; i++) number = number * 256 + (bytes[at + i] ?? 0);
        let five = "";
        for (let i = 0; i < 5; i++) {
            five = letters[number % 85] + five;
            number = Math.floor(number / 85);
        }
        parts.push(five);
    }
    return `${bytes.length}:${parts.join("")}`;
}

/**
 * @param {string} text of encoded()
 * @returns {Uint8Array} the bytes
 */
export function decoded(text) {
    const begin = text.indexOf(":") + 1;
    const value = new Uint8Array(128);
    letters.forEach((letter, i) => (value[letter.charCodeAt(0)] = i));
    const words = new DataView(new ArrayBuffer((4 * (text.length - begin)) / 5));
    for (let at = begin, to = 0; at < text.length; at += 5, to += 4) {
        let number = 0;
        for (let i = 0; i < 5; i++) number = number * 85 + value[text.charCodeAt(at + i)];
        words.setUint32(to, number);
    }
    return new Uint8Array(words.buffer, 0, Number(text.slice(0, begin - 1)));
}
