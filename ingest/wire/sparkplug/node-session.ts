/** One edge node and its devices: what their births said, and whether they live. */
import type { KeptHolder, KeptNode } from './kept-node.ts';
import type { Metric, SparkplugPayload } from './payload.ts';
import { SeqWindow } from './seq-window.ts';

/** unheard: its birth was not heard, because we came later. */
export type Life = 'unheard' | 'born' | 'dead';

export interface BornMetric {
  readonly name: string;
  readonly datatype: number;
}

const BD_SEQ = 'bdSeq';
/** Sparkplug 3.0, 6.4.8: the same count as the will of the connection that made this birth. */
function bdSeqOf(metrics: readonly Metric[]): bigint | null {
  const found = metrics.find(({ name }) => name === BD_SEQ)?.raw;
  if (found?.form === 'long') return found.value;
  return found?.form === 'int' ? BigInt(found.value) : null;
}

/** A node or a device: whoever is born and dies. */
export class Holder {
  life: Life = 'unheard';
  #bornAt: number | null = null;
  readonly #byAlias = new Map<bigint, BornMetric>();
  readonly #byName = new Map<string, number>();

  born({ metrics, timestamp }: SparkplugPayload): void {
    this.forget();
    this.life = 'born';
    this.#bornAt = timestamp;
    for (const { name, alias, datatype } of metrics) {
      if (name === null) continue;
      this.#byName.set(name, datatype);
      if (alias !== null) this.#byAlias.set(alias, { name, datatype });
    }
  }

  /** Whether a message was published before the birth that holds, so that its aliases are of another one. */
  isOlder({ timestamp }: SparkplugPayload): boolean {
    return timestamp !== null && this.#bornAt !== null && timestamp < this.#bornAt;
  }

  kept(): KeptHolder {
    return {
      life: this.life,
      bornAt: this.#bornAt,
      names: [...this.#byName],
      aliases: [...this.#byAlias].map(([alias, { name, datatype }]) => [String(alias), name, datatype]),
    };
  }

  recall({ life, bornAt, names, aliases }: KeptHolder): void {
    this.forget();
    this.life = life;
    this.#bornAt = bornAt;
    for (const [name, datatype] of names) this.#byName.set(name, datatype);
    for (const [alias, name, datatype] of aliases) this.#byAlias.set(BigInt(alias), { name, datatype });
  }

  /** Its aliases no longer hold. */
  forget(): void {
    this.#byAlias.clear();
    this.#byName.clear();
  }

  die(): void {
    this.forget();
    this.life = 'dead';
  }

  /** @returns null where the alias is not of this birth, or the metric has neither name nor alias */
  resolve({ name, alias, datatype }: Metric): BornMetric | null {
    if (name !== null && name !== '') {
      return { name, datatype: datatype === 0 ? (this.#byName.get(name) ?? 0) : datatype };
    }
    const known = alias === null ? undefined : this.#byAlias.get(alias);
    if (known === undefined) return null;
    return datatype === 0 ? known : { name: known.name, datatype };
  }
}

/** @see Sparkplug 3.0, chapters 5 (operational behaviour) and 6.4 (payloads) */
export class NodeSession {
  readonly node = new Holder();
  readonly seq = new SeqWindow();
  readonly devices = new Map<string, Holder>();
  /** Births and deaths came in a way that leaves none out while we are away. */
  isHeldForUs = false;
  #bdSeq: bigint | null = null;

  /** @param names  the devices that the map knows; others are not remembered, so nothing grows */
  constructor(names: readonly string[]) {
    for (const name of names) this.devices.set(name, new Holder());
  }

  nodeBorn(payload: SparkplugPayload): void {
    this.#bdSeq = bdSeqOf(payload.metrics);
    this.node.born(payload);
    this.seq.begin(payload.seq);
    // The births of the devices follow; until then no alias of theirs holds. A dead one stays dead.
    for (const device of this.devices.values()) {
      device.forget();
      if (device.life === 'born') device.life = 'unheard';
    }
  }

  kept(): KeptNode {
    return {
      bdSeq: this.#bdSeq === null ? null : String(this.#bdSeq),
      node: this.node.kept(),
      devices: [...this.devices].map(([name, device]) => [name, device.kept()]),
    };
  }

  /** Where messages were lost meanwhile can't be told: the count of them begins anew. */
  recall({ bdSeq, node, devices }: KeptNode): void {
    this.#bdSeq = bdSeq === null ? null : BigInt(bdSeq);
    this.isHeldForUs = true;
    this.node.recall(node);
    for (const [name, device] of devices) this.devices.get(name)?.recall(device);
  }

  /** @returns whether the death is that of the birth that was heard; another one is an old will, and ignored */
  nodeDied({ metrics }: SparkplugPayload): boolean {
    if (this.node.life !== 'born' || bdSeqOf(metrics) !== this.#bdSeq) return false;
    this.node.die();
    for (const device of this.devices.values()) device.die();
    return true;
  }
}
