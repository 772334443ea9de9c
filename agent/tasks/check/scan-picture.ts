// One pass over the picture's packets, without decoding, for all checks that need nothing else.
import type { CheckResult } from '#shared/check.ts';
import type { Rational } from '#shared/rational.ts';
import type { CheckTask } from '#shared/task.ts';
import { watchAccessPoints } from '../../media/check/access-points.ts';
import { checkOneKind } from '../../media/check/one-kind.ts';
import { parameterSetArgs, watchParameterSets } from '../../media/check/parameter-sets.ts';
import { packetEntries, parsePacketLine } from '../../media/check/picture-packets.ts';
import { watchPictureTimes } from '../../media/check/picture-times.ts';
import { checkSeams } from '../../media/check/seams.ts';
import { readPictureHeader } from '../../media/movie-header.ts';
import { readMovieHeader } from '../../tools/read-movie-header.ts';
import { runTool } from '../../tools/run-tool.ts';
import { type CheckFile, probe, throwIfStopped } from './check-file.ts';

const timeoutMs = 3_600_000;

export type PictureScan = {
  readonly file: CheckFile;
  readonly timeBase: Rational;
  readonly start: Rational;
  readonly signal: AbortSignal;
};

/** The checks `time`, `seams` and `one-kind`. */
export async function scanPicture(
  { plan, format, grains }: CheckTask,
  scan: PictureScan,
): Promise<CheckResult[]> {
  const { file, timeBase, start, signal } = scan;
  const { wrapper, picture } = format;
  const { rate, frames, gopFrames } = plan;
  const allIntra = picture.codec === 'vc3' || picture.codec === 'prores' || picture.codec === 'ffv1';
  const times = watchPictureTimes({ rate, frames, timeBase, start, wrapper });
  const points = watchAccessPoints({ rate, frames, gopFrames, timeBase, start, allIntra, grains });
  const takePacket = (line: string) => {
    const packet = parsePacketLine(line);
    if (packet === null) return;
    times.add(packet);
    points.add(packet);
  };
  const options = ['-select_streams', 'v:0', '-show_entries', packetEntries, '-of', 'compact=p=0'];
  await probe(file.local, file.demuxer, { options, signal, timeoutMs, onLine: takePacket });
  const accessPoints = points.result();
  const entries = wrapper === 'mkv' ? null : await readEntries(file.local);
  const parameterSets = await scanParameterSets(file, { codec: picture.codec, signal });
  return [
    times.result(),
    checkSeams({ frames, grains, missingPoints: new Set(accessPoints.missing) }),
    checkOneKind({ codec: picture.codec, wrapper, entries, parameterSets, accessPoints }),
  ];
}

async function readEntries(local: string) {
  const header = await readMovieHeader(local);
  const picture = header && readPictureHeader(header.moov);
  return header && picture
    ? { names: picture.descriptions.map((one) => one.name), headerFirst: header.first }
    : null;
}

type CodecScan = { readonly codec: CheckTask['format']['picture']['codec']; readonly signal: AbortSignal };

async function scanParameterSets({ local, demuxer }: CheckFile, { codec, signal }: CodecScan) {
  const args = parameterSetArgs({ local, demuxer, codec });
  if (args === null) return null;
  const sets = watchParameterSets();
  const result = await runTool({
    tool: 'ffmpeg',
    args,
    signal,
    timeoutMs,
    keepStdout: false,
    onLine: (line, stream) => (stream === 'stdout' ? sets.add(line) : undefined),
  });
  throwIfStopped(result, signal);
  return sets.result();
}
