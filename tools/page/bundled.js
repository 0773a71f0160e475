// One file of script or style from many.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { build } from "esbuild";

/**
 * One file of script or style from many, for browsers since 2023.
 *
 * @param {string} entry path of the file that includes the others
 * @param {object} extra more options of esbuild
 * @returns {Promise<string>} the text, minified
 */
export async function bundled(entry, extra) {
    const result = await build({
        entryPoints: [entry],
        bundle: true,
        minify: true,
        write: false,
        charset: "utf8",
        legalComments: "inline",
        target: ["chrome109", "firefox115", "safari16"],
        ...extra,
    });
    return result.outputFiles[0].text;
}

/**
 * @param {string} folder with notices.txt
 * @returns {string} what the page carries of others, as text of an element
 */
export const notices = (folder) =>
    readFileSync(join(folder, "notices.txt"), "utf8").replaceAll("&", "&amp;").replaceAll("<", "&lt;");

/**
 * What may stand within a script element.
 *
 * @param {string} script its text
 * @returns {string} the same, with nothing in it that would end the element
 */
export const embedded = (script) => script.replaceAll("</script", "<\\/script").replaceAll("<!--", "<\\!--");
