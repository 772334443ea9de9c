// Which ffmpeg this machine has. Asking it takes a good part of the start-up, so the answer is kept with its file.
import { MillError } from '#shared/errors.ts';
import { findTool } from '../tools/find-tool.ts';
import { addToCalibration, type Calibration } from './calibration-store.ts';

/** `5.1.9-0+deb12u1`. Throws MillError `missing-tool`. */
export async function readFfmpegVersion(
  folder: string,
  known: Calibration,
  signal: AbortSignal,
): Promise<string> {
  const tool = await findTool('ffmpeg');
  const key = [tool.path, tool.bytes, tool.modifiedMs].join('|');
  const kept = known.ffmpegs[key];
  if (kept !== undefined) return kept;
  const { runTool } = await import('../tools/run-tool.ts');
  const { stdout } = await runTool({ tool: 'ffmpeg', args: ['-version'], signal, timeoutMs: 20_000 });
  const version = /^ffmpeg version (\S+)/.exec(stdout)?.[1];
  if (version === undefined) {
    throw new MillError(
      'missing-tool',
      `${tool.path} does not answer to -version; install ffmpeg (deploy/setup.sh does)`,
    );
  }
  await addToCalibration(folder, { ffmpegs: { [key]: version } });
  return version;
}
