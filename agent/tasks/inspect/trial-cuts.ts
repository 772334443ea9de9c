// Makes trial cuts: decodes after a seek as an encoder would, and compares with a decode from far before.
import type { CutFacts } from '#shared/facts.ts';
import {
  cutVerdict,
  pickTrialKeyframes,
  referenceFor,
  type Trial,
  type TrialInput,
  trialAt,
  trialLeads,
  trialPictures,
} from '../../media/facts/trial-plan.ts';
import { type DecodedPictures, type DecodeRun, decodePictures } from './decode-pictures.ts';

export type TrialRun = {
  readonly input: TrialInput;
  readonly decode: Pick<DecodeRun, 'source' | 'track' | 'signal' | 'timeoutMs'>;
  /** Hashes of all pictures, where the whole source was decoded; else null. */
  readonly whole: Float64Array | null;
};

export type TrialOutcome = {
  readonly cuts: CutFacts;
  /** The last trial decoded the very pictures to the end of the file that the packets promised. */
  readonly endConfirmed: boolean;
};

export async function tryCuts(run: TrialRun): Promise<TrialOutcome> {
  const places = pickTrialKeyframes(run.input);
  const references = await Promise.all(places.map((index) => referenceHashes(run, index)));
  const tried: CutFacts['trials'] = [];
  for (const lead of places.length === 0 ? [] : trialLeads(run.input)) {
    const trials = places.map((index, i) =>
      trialAt(run.input, { index, lead, toEnd: i === places.length - 1 }),
    );
    const results = await Promise.all(
      trials.map((trial, i) => tryCut(run, trial, references[i] ?? new Float64Array())),
    );
    tried.push(...results);
    if (results.every((result) => result.same)) break;
  }
  const cuts = cutVerdict(run.input.keyframes, tried);
  return { cuts, endConfirmed: tried.at(-1)?.same ?? false };
}

async function tryCut(
  run: TrialRun,
  trial: Trial,
  reference: Float64Array,
): Promise<CutFacts['trials'][number]> {
  const { seekSeconds, startTicks } = trial;
  const limit = trial.toEnd ? {} : { pictures: trialPictures };
  const found = await decodePictures({ ...run.decode, seekSeconds, startTicks, ...limit });
  const due = run.input.pts.subarray(trial.frame, trial.toEnd ? undefined : trial.frame + trialPictures);
  // A reference that is short itself proves nothing.
  const proves = reference.length === Math.min(due.length, trialPictures);
  return {
    frame: trial.frame,
    leadKeyframes: trial.leadKeyframes,
    picturesCompared: Math.min(found.pts.length, due.length),
    same:
      proves &&
      sameNumbers(found.pts, due) &&
      sameNumbers(found.hashes.subarray(0, reference.length), reference),
  };
}

/** Hashes of the pictures from keyframe `index` on, from a decode that began far before it. */
async function referenceHashes(run: TrialRun, index: number): Promise<Float64Array> {
  const { frame } = run.input.keyframes.at(index);
  if (run.whole) return run.whole.subarray(frame, frame + trialPictures);
  const { startTicks } = trialAt(run.input, { index, lead: 0, toEnd: false });
  const seekSeconds = referenceFor(run.input, index);
  const found: DecodedPictures = await decodePictures({
    ...run.decode,
    seekSeconds,
    startTicks,
    pictures: trialPictures,
  });
  return found.hashes;
}

function sameNumbers(a: Float64Array, b: Float64Array): boolean {
  return a.length === b.length && a.every((value, i) => value === b[i]);
}
