// One file of script or style from many.
import { build } from "esbuild";

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

// What may stand within a script element.
export const embedded = (script) => script.replaceAll("</script", "<\\/script").replaceAll("<!--", "<\\!--");
