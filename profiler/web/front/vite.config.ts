/** Builds the page into ../static and writes there which sources it was built from. */
import { createHash } from "node:crypto";
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, relative, resolve, sep } from "node:path";
import { defineConfig, type Plugin } from "vite";

const here = import.meta.dirname;
const built = resolve(here, "../static");
/** What the built files follow from; tests/web/test_built.py reads the same list. */
const SOURCES = ["index.html", "package.json", "package-lock.json", "tsconfig.json", "vite.config.ts", "src"];

function filesUnder(path: string): string[] {
  const found: string[] = [];
  for (const entry of readdirSync(path, { withFileTypes: true })) {
    const inner = join(path, entry.name);
    if (entry.isDirectory()) found.push(...filesUnder(inner));
    else found.push(inner);
  }
  return found;
}

function sha256(data: string | Buffer): string {
  return createHash("sha256").update(data).digest("hex");
}

/** One hash over names and contents, names sorted by code point. */
function sourcesHash(): string {
  const files = SOURCES.flatMap((name) => {
    const path = join(here, name);
    return name === "src" ? filesUnder(path) : [path];
  });
  const names = files.map((file) => relative(here, file).split(sep).join("/")).sort();
  return sha256(names.map((name) => `${name} ${sha256(readFileSync(join(here, name)))}\n`).join(""));
}

function provenance(): Plugin {
  return {
    name: "provenance",
    apply: "build",
    generateBundle() {
      // the lettering's licence travels with it
      const source = readFileSync(join(here, "src/fonts/LICENSE.txt"));
      this.emitFile({ type: "asset", fileName: "lettering-licence.txt", source });
    },
    closeBundle() {
      const files = filesUnder(built)
        .map((file) => relative(built, file).split(sep).join("/"))
        .filter((name) => name !== "built.json")
        .sort();
      const hashes = Object.fromEntries(files.map((name) => [name, sha256(readFileSync(join(built, name)))]));
      const record = { sources: sourcesHash(), files: hashes };
      writeFileSync(join(built, "built.json"), JSON.stringify(record, null, 1) + "\n");
    },
  };
}

export default defineConfig({
  root: here,
  base: "/static/",
  plugins: [provenance()],
  build: {
    outDir: built,
    emptyOutDir: true,
    assetsInlineLimit: 0, // data: addresses would need a hole in the content policy
    modulePreload: { polyfill: false },
    target: "es2022",
    reportCompressedSize: false,
    rolldownOptions: {
      // plain names: the server adds a hash to the query, see profiler/web
      output: {
        entryFileNames: "app.js",
        assetFileNames: (asset) => (asset.names[0]?.endsWith(".css") ? "app.css" : "[name][extname]"),
        codeSplitting: false,
      },
    },
    chunkSizeWarningLimit: 800,
  },
});
