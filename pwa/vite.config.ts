import { fileURLToPath } from "node:url";

import { VitePWA } from "vite-plugin-pwa";
import { defineConfig } from "vitest/config";

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));

/** The folder of a chunk says who needs it offline: no folder is everybody's, "staff" the desk's, "fr-crew" a soigneur's. */
function groupOf(modules: readonly string[]): string {
  const named = modules.map((id) => {
    const words = /generated\/([a-z]{2})(?:\.(\w+))?\.ts$/.exec(id);
    if (words !== null) {
      const [, language, part] = words;
      return [language === "en" ? "" : language, part === "crew" || part === "staff" || part === "mine" ? part : ""].filter(Boolean).join("-");
    }
    if (/screens\/staff\/|node_modules\/(d3-|uplot)/.test(id)) return "staff";
    if (/screens\/shared\/mine/.test(id)) return "mine";
    if (/screens\/hold\/|sync\/others/.test(id)) return "hold";
    return /screens\/shared\/(crew|hand_up|returns|slate|weigh_room|scan|shared_file|ride_card|rides)|screens\/coolbox\/|node_modules\/jsqr/.test(id) ? "crew" : null;
  });
  const groups = new Set(named.filter((group) => group !== null));
  return groups.size === 1 ? ([...groups][0] ?? "") : "";
}

export default defineConfig({
  resolve: {
    alias: {
      "@": here("./src"),
      // The tests live outside this folder, where Node would not find these.
      "fake-indexeddb/auto": here("./node_modules/fake-indexeddb/auto/index.mjs"),
      vitest: here("./node_modules/vitest/dist/index.js"),
    },
  },
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  build: {
    target: "es2022",
    modulePreload: { polyfill: false },
    manifest: true,
    assetsInlineLimit: 0,
    rolldownOptions: {
      output: {
        chunkFileNames: ({ moduleIds }) => ["assets", groupOf(moduleIds), "[name]-[hash].js"].filter(Boolean).join("/"),
        assetFileNames: ({ names }) => ["assets", { "staff.css": "staff", "coolbox.css": "crew", "hold.css": "hold" }[names[0] ?? ""], "[name]-[hash][extname]"].filter(Boolean).join("/"),
        codeSplitting: {
          groups: [
            { name: "words", test: /generated[\\/]en\.ts$/, priority: 3 },
            { name: "platform", test: /node_modules[\\/](preact|@preact|idb)/, priority: 3 },
            // A chunk costs a message to the worker and back: what every start needs comes in one, what the road adds in two.
            { name: "shell", test: /src[\\/](store(?![\\/]holders)|sync(?![\\/]others)|ui[\\/][a-z]+\.tsx?$|ui[\\/]parts[\\/](button|link_line))/, priority: 2 },
            // Making, using and remembering passkeys: for the desk and for shared phones, in no group of its own.
            { name: "keys", test: /src[\\/](store[\\/]holders|core[\\/]holders|ui[\\/]parts[\\/]passkey)/, priority: 1 },
            { name: "glance", test: /src[\\/](ui[\\/]parts[\\/](lane|nothing|evidence|hint)|core[\\/](lane|due|cage|progress)|ui[\\/]screens[\\/]rider[\\/](pocket|road_state))/, priority: 1 },
          ],
        },
      },
    },
  },
  server: { fs: { allow: [".."] }, proxy: { "/api": "http://localhost:8000" } },
  plugins: [
    VitePWA({
      strategies: "injectManifest",
      srcDir: "src/sw",
      filename: "sw.ts",
      injectRegister: false,
      manifest: false,
      // The large icons are for whoever installs, who is on line then.
      injectManifest: { globPatterns: ["**/*.{js,css,html,woff2,webmanifest,svg,png}"], globIgnores: ["icons/*-512.png"], minify: true },
    }),
  ],
  test: { dir: here("../tests/pwa"), globals: true, environment: "node" },
});
