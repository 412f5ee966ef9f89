import preact from '@preact/preset-vite';
import { defineConfig } from 'vite';

/** The server's address while pages are written: `npm run kilter -- serve`, then `npx vite --config web/vite.config.ts`. */
const SERVER = 'http://127.0.0.1:8090';

export default defineConfig({
  root: import.meta.dirname,
  base: '/',
  plugins: [preact({ devToolsEnabled: false, prefreshEnabled: false })],
  build: {
    outDir: '../dist/web',
    emptyOutDir: true,
    // light-dark() and nesting as written: lowering them would double the tokens.
    target: ['chrome123', 'firefox128', 'safari17.5'],
    // A strict content policy allows no data: address, so every font stays a file.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // The chart chunk is near 650 kB before gzip; it is loaded only by pages that draw a chart.
    chunkSizeWarningLimit: 720,
  },
  server: { proxy: { '/api': SERVER } },
});
