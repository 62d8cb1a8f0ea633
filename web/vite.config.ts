import { defineConfig } from "vite";
import { VitePWA } from "vite-plugin-pwa";

export default defineConfig({
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  build: { target: "es2022", outDir: "dist", sourcemap: false },
  server: { proxy: { "/api": "http://127.0.0.1:8080" } },
  plugins: [
    VitePWA({
      registerType: "prompt",
      manifest: {
        name: "Levelbook",
        short_name: "Levelbook",
        description: "Floor levels of a house, from reading to report",
        display: "standalone",
        start_url: "/",
        background_color: "#ffffff",
        theme_color: "#14324f",
        icons: [{ src: "/icon.svg", sizes: "any", type: "image/svg+xml" }],
      },
      workbox: {
        globPatterns: ["**/*.{js,css,html,svg,woff2}"],
        navigateFallback: "/index.html",
        navigateFallbackDenylist: [/^\/(api|r|health)\//, /^\/metrics$/],
      },
    }),
  ],
});
