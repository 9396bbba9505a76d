import { fileURLToPath } from "node:url";

import { VitePWA } from "vite-plugin-pwa";
import { defineConfig } from "vitest/config";

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));

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
    assetsInlineLimit: 0,
    rolldownOptions: {
      output: {
        codeSplitting: {
          groups: [
            { name: "words", test: /generated[\\/]en\.ts$/ },
            { name: "platform", test: /node_modules[\\/](preact|@preact|idb)/ },
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
      injectManifest: { globPatterns: ["**/*.{js,css,html,woff2,webmanifest,svg,png}"], minify: true },
    }),
  ],
  test: { dir: here("../tests/pwa"), globals: true, environment: "node" },
});
