import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    globalSetup: ['tests/build-once.ts'],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    // Two cores: one worker thinks, the other serves the child processes that tests start.
    maxWorkers: 2,
  },
});
