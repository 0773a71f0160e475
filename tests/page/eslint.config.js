// What the sources of the pages are held to: eslint's own recommendations, and a JSDoc on every function that a module
// exports. Run from the top folder, with this file beside its packages (tools/check).
import js from "@eslint/js";
import jsdoc from "eslint-plugin-jsdoc";
import globals from "globals";

export default [
    js.configs.recommended,
    jsdoc.configs["flat/recommended-error"],
    {
        linterOptions: { reportUnusedDisableDirectives: "error" },
        languageOptions: { ecmaVersion: 2022, sourceType: "module" },
        rules: {
            // Texts stay whole where they have nowhere to break.
            "max-len": ["error", { code: 120, ignoreTemplateLiterals: true, ignoreRegExpLiterals: true }],
            "max-lines": ["error", 400],
            eqeqeq: "error",
            "no-var": "error",
            "prefer-const": ["error", { destructuring: "all" }],
            "jsdoc/tag-lines": ["error", "any", { startLines: null }],
            "jsdoc/require-param": ["error", { checkDestructured: false }],
            "jsdoc/check-param-names": ["error", { checkDestructured: false }],
            "jsdoc/require-jsdoc": [
                "error",
                {
                    publicOnly: true,
                    require: { FunctionDeclaration: true, ArrowFunctionExpression: true, ClassDeclaration: true },
                },
            ],
        },
    },
    { files: ["tools/page/**", "tools/rig/**"], languageOptions: { globals: globals.browser } },
    { files: ["tools/rig/worker.js"], languageOptions: { globals: { ...globals.worker, Module: "readonly" } } },
    {
        files: ["tools/rig/unpack.js"],
        languageOptions: {
            globals: { PACKED_SOLVER: "readonly", PACKED_SCRIPT: "readonly", importScripts: "readonly" },
        },
    },
    { files: ["**/bundle.js", "**/bundled.js"], languageOptions: { globals: globals.node } },
    {
        files: ["tests/page/**"],
        languageOptions: { globals: { ...globals.node, ...globals.browser, needleturnRig: "readonly" } },
    },
];
