// Runs one full decode of the check task and gathers what it says.
import {
  type DecodeRun,
  decodeArgs,
  parsePictureHash,
  parseProgressFrame,
} from '../../media/check/decode-run.ts';
import { errorInLog, readSoundLog, type SoundMeasure } from '../../media/check/sound-measures.ts';
import { runTool } from '../../tools/run-tool.ts';
import { throwIfStopped } from './check-file.ts';

export type Decoded = {
  readonly ok: boolean;
  /** Error lines, the first few. */
  readonly errors: readonly string[];
  readonly frames: number;
  /** One a picture, where asked for. */
  readonly pictureHashes: readonly string[];
  readonly sound: readonly SoundMeasure[];
};

const keptErrors = 5;

export async function runDecode(
  run: DecodeRun,
  limits: { signal: AbortSignal; timeoutMs: number },
): Promise<Decoded> {
  const soundLog = readSoundLog();
  const errors: string[] = [];
  const pictureHashes: string[] = [];
  let progressFrames = 0;
  const result = await runTool({
    tool: 'ffmpeg',
    args: decodeArgs(run),
    ...limits,
    keepStdout: false,
    onLine: (line, stream) => {
      if (stream === 'stderr') {
        soundLog.addStderr(line);
        const error = errorInLog(line);
        if (error !== null && errors.length < keptErrors) errors.push(error);
        return;
      }
      soundLog.addStdout(line);
      const hash = parsePictureHash(line);
      if (hash !== null) pictureHashes.push(hash);
      progressFrames = parseProgressFrame(line) ?? progressFrames;
    },
  });
  throwIfStopped(result, limits.signal);
  if (!result.ok && errors.length === 0)
    errors.push(`ffmpeg ended with ${result.exitCode ?? result.endedBy}`);
  return {
    ok: result.ok && errors.length === 0,
    errors,
    frames: run.picture?.hashed ? pictureHashes.length : progressFrames,
    pictureHashes,
    sound: soundLog.result(run.sound.length),
  };
}
