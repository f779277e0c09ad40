// One script, one style sheet, the faces: no chunk loads another, no address outside.
import { defineConfig } from "vite";

export default defineConfig({
  base: "./",
  publicDir: "public",
  build: {
    outDir: "../src/legwright/views/desk/page",
    emptyOutDir: true,
    target: "es2022",
    cssCodeSplit: false,
    modulePreload: false,
    reportCompressedSize: false,
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 900,
  },
});
