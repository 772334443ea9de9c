// Lanes on this very machine: proven and measured by real encodes, remembered, and refused with a reason.
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { builtInFormats } from '#shared/house-formats.ts';
import { type Lane, laneSchema } from '#shared/link.ts';
import { addToCalibration, readCalibration } from '../../agent/lanes/calibration-store.ts';
import { readFfmpegVersion } from '../../agent/lanes/ffmpeg-version.ts';
import { findLanes } from '../../agent/lanes/find-lanes.ts';
import { proveLane } from '../../agent/lanes/prove-lane.ts';
import { softwareLanes } from '../../agent/lanes/software-lanes.ts';
import { readMachineFacts } from '../../agent/tools/machine-facts.ts';
import { recordLog } from '../support/recorded-log.ts';
import { tempFolder } from '../support/temp-folder.ts';

const never = new AbortController().signal;

describe('the search for lanes', () => {
  test('proves all software lanes, measures the wanted formats first, and then knows them at once', async () => {
    const folder = await tempFolder();
    const search = await searchIn(folder);
    const lists = await Array.fromAsync(findLanes(search));

    expect(lists[0]?.map(({ proven, reason }) => ({ proven, reason }))).toEqual(
      softwareLanes.map(() => ({ proven: false, reason: 'its proof has not run yet' })),
    );
    // VC-3 was wanted, so it comes before all others, and with its rate.
    expect(lists[1]?.filter(({ proven }) => proven).map(({ id }) => id)).toEqual(['dnxhd']);
    const lanes = lists.at(-1) ?? [];
    expect(lanes.map((lane) => laneSchema.parse(lane))).toEqual(lanes);
    expect(lanes.every(({ proven }) => proven)).toBe(true);
    expect(lanes.map(({ codec }) => codec).toSorted()).toEqual([
      'av1',
      'ffv1',
      'h264',
      'h265',
      'prores',
      'vc3',
    ]);
    const rate = byEncoder(lanes, 'dnxhd')?.rates['edit-proxy@1'];
    expect(rate?.framesPerSecond).toBeGreaterThan(0);
    expect(rate?.megapixelsPerSecond).toBeCloseTo(((rate?.framesPerSecond ?? 0) * 1920 * 1080) / 1e6, 6);
    expect(byEncoder(lanes, 'libx265')).toMatchObject({
      rates: {},
      stitchClass: expect.stringMatching(/^libx265 \S+ ffmpeg \S+$/),
    });

    const again = { ...search, known: await readCalibration(search.folder) };
    expect(await Array.fromAsync(findLanes(again))).toEqual([lanes]);
  });

  test('lets agents of one machine measure one after another, and the second use what the first found', async () => {
    const folder = await tempFolder();
    const [first, second] = [await searchIn(folder), await searchIn(folder)];
    const known = { proofs: allProofs(first.ground.ffmpegVersion), rates: {} };
    await addToCalibration(first.folder, known);
    const logs = [recordLog(), recordLog()] as const;
    await Promise.all([
      Array.fromAsync(findLanes({ ...first, log: logs[0] })),
      Array.fromAsync(findLanes({ ...second, log: logs[1] })),
    ]);
    expect(
      logs.flatMap(({ lines }) => lines.filter(({ message }) => message === 'rate measured')),
    ).toHaveLength(1);
  });

  test('takes what was found with another ffmpeg for nothing', async () => {
    const folder = await tempFolder();
    const search = await searchIn(folder);
    await addToCalibration(search.folder, { proofs: allProofs('4.0'), rates: {} });
    const found = await findLanes({ ...search, known: await readCalibration(search.folder) }).next();
    expect(found.value?.some(({ proven }: Lane) => proven)).toBe(false);
  });
});

describe('a proof', () => {
  test('fails with the decisive line of an encoder that is not there', async () => {
    const lane = { encoder: 'libx265', codec: 'h265', device: 'cpu', versionPattern: null } as const;
    const folder = await tempFolder();
    // A file where the trial's output should be written: the encoder can't open it.
    await mkdir(join(folder, 'proof-libx265-0.mov'));
    const proof = await proveLane(lane, { scratch: folder, signal: never });
    expect(proof).toEqual({
      ok: false,
      reason: expect.stringMatching(/^the trial encode failed: .*Is a directory/),
    });
  });
});

describe('the calibration', () => {
  test('that is damaged counts as empty, and is written anew', async () => {
    const folder = await tempFolder();
    await writeFile(join(folder, 'calibration.json'), '{"schema":1,"proofs":');
    expect(await readCalibration(folder)).toMatchObject({ proofs: {}, rates: {} });
    await addToCalibration(folder, { ffmpegs: { 'a|1|2': '5.1' } });
    expect(JSON.parse(await readFile(join(folder, 'calibration.json'), 'utf8'))).toMatchObject({
      ffmpegs: { 'a|1|2': '5.1' },
    });
  });
});

async function searchIn(folder: string) {
  const calibration = join(folder, 'calibration');
  const known = await readCalibration(calibration);
  const ffmpegVersion = await readFfmpegVersion(calibration, known, never);
  return {
    ground: { ffmpegVersion, machine: readMachineFacts() },
    formats: builtInFormats.filter(({ name }) => name === 'edit-proxy'),
    folder: calibration,
    known,
    scratch: folder,
    signal: never,
    log: recordLog(),
  };
}

function allProofs(ffmpegVersion: string) {
  const { cpu, cores } = readMachineFacts();
  return Object.fromEntries(
    softwareLanes.map(({ encoder }) => [
      [encoder, ffmpegVersion, cpu, cores].join('|'),
      { libraryVersion: null },
    ]),
  );
}

function byEncoder(lanes: readonly Lane[], encoder: string): Lane | undefined {
  return lanes.find((lane) => lane.encoder === encoder);
}
