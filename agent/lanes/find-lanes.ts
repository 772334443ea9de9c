// Finds this machine's lanes: at once what earlier agents proved and measured, then what is still missing, one by one.
import { mkdir } from 'node:fs/promises';
import type { HouseFormat } from '#shared/house-format.ts';
import { type Lane, proofToCome } from '#shared/link.ts';
import { waitForName } from '../tools/hold-name.ts';
import type { AgentLog } from '../tools/logger.ts';
import {
  addToCalibration,
  type Calibration,
  formatKey,
  type Ground,
  proofKey,
  rateKey,
  readCalibration,
} from './calibration-store.ts';
import { type LaneCandidate, softwareLanes, stitchClassOf } from './software-lanes.ts';

export type LaneSearch = {
  readonly ground: Ground;
  /** Formats whose rates are wanted. */
  readonly formats: readonly HouseFormat[];
  /** Folder of the calibration, shared by the agents of this machine. */
  readonly folder: string;
  readonly known: Calibration;
  /** This agent's own, for trial encodes. */
  readonly scratch: string;
  readonly signal: AbortSignal;
  readonly log: AgentLog;
};

/** Agents of one machine measure after one another; one that waits longer than this measures all the same. */
const turnLimitMs = 120_000;

/** Each value is the whole list as far as it is known then; the first comes without running anything. */
export async function* findLanes(search: LaneSearch): AsyncGenerator<readonly Lane[]> {
  const faults = new Map<string, string>();
  const list = (known: Calibration) =>
    softwareLanes.map((lane) => describeLane(search, lane, { known, faults }));
  yield list(search.known);
  if (softwareLanes.every((lane) => isComplete(search, lane, search.known))) return;
  await mkdir(search.folder, { recursive: true });
  let known = search.known;
  for (const lane of byNeed(search.formats)) {
    if (isComplete(search, lane, known)) continue;
    // A turn is for one lane, so that whoever waits knows each lane as soon as it is known on this machine.
    await using _turn = await waitForName(`calibration ${search.folder}`, turnLimitMs, search.signal);
    known = await readCalibration(search.folder);
    if (!isComplete(search, lane, known)) {
      const fault = await tryLane(search, lane, known);
      if (fault !== null) faults.set(lane.encoder, fault);
      known = await readCalibration(search.folder);
    }
    yield list(known);
  }
}

/** Codecs of the wanted formats first: work for them may be waiting. */
function byNeed(formats: readonly HouseFormat[]): readonly LaneCandidate[] {
  const isWanted = (lane: LaneCandidate) => formatsOf(lane, formats).length > 0;
  return [...softwareLanes.filter(isWanted), ...softwareLanes.filter((lane) => !isWanted(lane))];
}

function formatsOf({ codec }: LaneCandidate, formats: readonly HouseFormat[]): HouseFormat[] {
  return formats.filter(({ picture }) => picture.codec === codec);
}

function isComplete({ ground, formats }: LaneSearch, lane: LaneCandidate, known: Calibration): boolean {
  const measured = (format: HouseFormat) => known.rates[rateKey(ground, lane.encoder, format)] !== undefined;
  return (
    known.proofs[proofKey(ground, lane.encoder)] !== undefined && formatsOf(lane, formats).every(measured)
  );
}

/** Proves and measures what is missing of one lane and keeps it. Answers why the lane doesn't count, or null. */
async function tryLane(search: LaneSearch, lane: LaneCandidate, known: Calibration): Promise<string | null> {
  const { ground, folder, signal, log } = search;
  const { encoder } = lane;
  const [{ proveLane }, { measureRate }] = await Promise.all([
    import('./prove-lane.ts'),
    import('./measure-rate.ts'),
  ]);
  let proof: Calibration['proofs'][string] | undefined = known.proofs[proofKey(ground, encoder)];
  if (proof === undefined) {
    const proven = await proveLane(lane, search);
    signal.throwIfAborted();
    if (!proven.ok) {
      // Not kept: what was missing may be there at the next start.
      log.warn({ encoder, reason: proven.reason }, 'lane not proven');
      return proven.reason;
    }
    proof = { libraryVersion: proven.libraryVersion };
  }
  const rates: Record<string, Lane['rates'][string]> = {};
  for (const format of formatsOf(lane, search.formats)) {
    const key = rateKey(ground, encoder, format);
    const rate = known.rates[key] ?? (await measureRate(format, signal));
    if (rate === null) log.warn({ encoder, format: formatKey(format) }, 'no rate could be measured');
    else {
      log.info(
        { encoder, format: formatKey(format), framesPerSecond: Math.round(rate.framesPerSecond * 10) / 10 },
        'rate measured',
      );
      rates[key] = rate;
    }
  }
  // Proof and rates become known together: a lane without a rate would be given work as a slow one.
  await addToCalibration(folder, { proofs: { [proofKey(ground, encoder)]: proof }, rates });
  return null;
}

type Knowledge = { readonly known: Calibration; readonly faults: ReadonlyMap<string, string> };

function describeLane(
  { ground, formats }: LaneSearch,
  lane: LaneCandidate,
  { known, faults }: Knowledge,
): Lane {
  const { encoder, codec, device } = lane;
  const proof = known.proofs[proofKey(ground, encoder)];
  const rates = formatsOf(lane, formats).flatMap((format) => {
    const rate = known.rates[rateKey(ground, encoder, format)];
    return rate === undefined ? [] : [[formatKey(format), rate] as const];
  });
  return {
    id: encoder,
    encoder,
    codec,
    device,
    stitchClass: stitchClassOf(encoder, ground.ffmpegVersion, proof?.libraryVersion ?? null),
    proven: proof !== undefined,
    reason: proof === undefined ? (faults.get(encoder) ?? proofToCome) : null,
    rates: Object.fromEntries(rates),
  };
}
