import { describe, expect, test } from 'vitest';
import { LOCKGATE_PROFILE, MILLRACE_PROFILE } from '../../../ingest/demo/profiles.ts';
import { deviceFaults } from '../../../ingest/wire/modbus/device-config.ts';
import { parseProfile } from '../../../ingest/wire/modbus/profile.ts';

describe('profiles of the demo', () => {
  test.each([
    ['millrace-hybrid', MILLRACE_PROFILE, { unit: 'u1' }],
    ['lockgate-pack', LOCKGATE_PROFILE, { pack: 'p1' }],
  ])('%s is a profile without a mistake, and of use for its device', (name, yaml, source) => {
    const { profile, mistakes } = parseProfile(yaml, `${name}.yaml`);
    expect(mistakes).toEqual([]);
    expect(profile?.profile).toBe(name);
    expect(deviceFaults({ ...source, reads: { profile: profile! } })).toEqual([]);
  });
});
