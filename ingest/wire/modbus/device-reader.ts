import { SunspecReader } from '../sunspec/sunspec-reader.ts';
import type { DeviceConfig } from './device-config.ts';
import type { DeviceReader } from './device-talk.ts';
import { ProfileReader } from './profile-reader.ts';

export type { DeviceReader, OpenResult } from './device-talk.ts';

/** One for each device; it remembers what the device refused, and which settings were sent. */
export function createDeviceReader(config: DeviceConfig): DeviceReader {
  return config.reads === 'sunspec' ? new SunspecReader(config) : new ProfileReader(config, config.reads.profile);
}
