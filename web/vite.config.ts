// How the pages are built and served while developing.
// The scheme script must run before the first paint and may not be inline
// (the server's content security policy), so it is emitted as its own hashed,
// classic script and put first in the head.
import { readFileSync } from "node:fs";
import react from "@vitejs/plugin-react";
import type { Plugin } from "vite";
import { defineConfig } from "vitest/config";

function firstPaintScript(): Plugin {
  const file = new URL("./src/app/first-paint.js", import.meta.url);
  let reference: string | undefined;
  let building = false;
  return {
    name: "waybill-first-paint",
    configResolved(config) {
      building = config.command === "build";
    },
    buildStart() {
      if (!building) return;
      reference = this.emitFile({
        type: "asset",
        name: "first-paint.js",
        source: readFileSync(file, "utf8"),
      });
    },
    transformIndexHtml: {
      order: "post",
      handler(_html, context) {
        const asset = Object.values(context.bundle ?? {}).find(
          (entry) => entry.type === "asset" && entry.names.includes("first-paint.js"),
        );
        const src = asset && reference ? `/${asset.fileName}` : "/src/app/first-paint.js";
        return [{ tag: "script", attrs: { src }, injectTo: "head-prepend" as const }];
      },
    },
  };
}

export default defineConfig({
  plugins: [react(), firstPaintScript()],
  server: {
    port: 5173,
    proxy: { "/api": { target: process.env.WAYBILL_API ?? "http://127.0.0.1:8790" } },
  },
  build: {
    target: "es2023",
    // No data: or inline modules: everything is a file of ours with a hash in its name.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 900,
  },
  test: {
    environment: "jsdom",
    setupFiles: ["./test/setup.ts"],
    include: ["src/**/*.test.{ts,tsx}", "test/**/*.test.{ts,tsx}"],
    css: false,
  },
});
