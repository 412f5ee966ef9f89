import type { SettingValue } from '../../vocabulary/reading.ts';
import { DAY_MS, HOUR_MS } from '../../vocabulary/time.ts';

/** When the settings of a device are read, and which of them are sent: those that changed, and all of them once a day. */
export class SettingsMemory {
  #readAt: number | null = null;
  #sentAllAt: number | null = null;
  readonly #sent = new Map<string, SettingValue>();

  /** After an hour, and where the clock was set back. */
  isDue(tMs: number): boolean {
    return this.#readAt === null || tMs - this.#readAt >= HOUR_MS || tMs < this.#readAt;
  }

  /**
   * @param isWhole  whether all were read; where not, they are due again at once
   * @returns what is to be sent, or null
   */
  take(
    settings: ReadonlyMap<string, SettingValue>,
    tMs: number,
    isWhole: boolean,
  ): Record<string, SettingValue> | null {
    if (isWhole) this.#readAt = tMs;
    const sendsAll = this.#sentAllAt === null || tMs - this.#sentAllAt >= DAY_MS || tMs < this.#sentAllAt;
    const news = [...settings].filter(([key, value]) => sendsAll || this.#sent.get(key) !== value);
    for (const [key, value] of news) this.#sent.set(key, value);
    if (sendsAll && isWhole) this.#sentAllAt = tMs;
    return news.length === 0 ? null : Object.fromEntries(news);
  }
}
