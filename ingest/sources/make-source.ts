/** A configured source, made but not started: the one place that knows all kinds that a worker or courier runs. */
import type { LiveDoor } from '../intake/live-door.ts';
import type { CourierOffset } from '../wire/mqtt/message.ts';
import { createFolderSource, type FolderConfig } from './folder-source.ts';
import { type FollowedFolder, type FollowHouse, followFolder } from './follow-folder.ts';
import type { LiveSource } from './live-source.ts';
import type { ModbusConfig } from './modbus/modbus-config.ts';
import { createModbusSource, type ModbusHouse } from './modbus/modbus-source.ts';
import type { MqttConfig } from './mqtt/mqtt-config.ts';
import { createMqttSource } from './mqtt/mqtt-source.ts';
import { createSourceMemory } from './source-memory.ts';

/** Sources that whoever has a door can run; what is pushed comes through the server. */
export type RunConfig = FolderConfig | ModbusConfig | MqttConfig;

/** Monotonic time and waiting, for what has a cadence. */
export type SourcePace = NonNullable<ModbusHouse['clock']>;

export interface SourceHouse {
  readonly door: LiveDoor;
  nowMs(): number;
  say(line: string): void;
  /** Left out: the process's own. */
  readonly pace?: SourcePace | undefined;
  /** What a followed folder stands on. */
  followHouse(folder: FollowedFolder): FollowHouse;
  /** Keeps what a courier says of its clock. */
  hearOffset(offset: CourierOffset): void;
  /** A folder for what sources must know after their process ended. */
  readonly memoryFolder: string;
}

export function makeSource(config: RunConfig, house: SourceHouse): LiveSource {
  const { door, nowMs, say, pace, followHouse } = house;
  switch (config.kind) {
    case 'folder':
      return createFolderSource(config, {
        nowMs,
        say,
        follow: (folder, listener) => followFolder(followHouse(folder), folder, listener),
      });
    case 'modbus':
      return createModbusSource(config, door, { nowMs, say, ...(pace === undefined ? {} : { clock: pace }) });
    case 'mqtt':
      return createMqttSource(config, door, { ...house, memory: createSourceMemory(house.memoryFolder, config.name) });
  }
}
