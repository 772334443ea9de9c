// Reading what the tools print: packets, logs with levels, hashes, progress.
import { describe, expect, it } from 'vitest';
import { parsePictureHash, parseProgressFrame } from '../../../../../agent/media/check/decode-run.ts';
import { checkDecoded } from '../../../../../agent/media/check/decoded.ts';
import { parsePacketLine } from '../../../../../agent/media/check/picture-packets.ts';
import { checkSameHashes } from '../../../../../agent/media/check/same-hashes.ts';
import { errorInLog, readSoundLog } from '../../../../../agent/media/check/sound-measures.ts';
import { counted, listed, namedFrames, verdict } from '../../../../../agent/media/check/verdict.ts';

describe('packets', () => {
  it('are read from compact lines', () => {
    expect(parsePacketLine('pts=1001|dts=-1001|size=86|flags=K_')).toEqual({
      pts: 1001,
      dts: -1001,
      bytes: 86,
      keyframe: true,
      presented: true,
    });
    expect(parsePacketLine('pts=N/A|dts=N/A|size=86|flags=_D')).toEqual({
      pts: null,
      dts: null,
      bytes: 86,
      keyframe: false,
      presented: false,
    });
    expect(parsePacketLine('')).toBeNull();
  });
});

describe('the log of a decode', () => {
  const log = readSoundLog();
  for (const line of [
    '[ametadata@s1 @ 0x55] [info] frame:38   pts:182400  pts_time:3.8',
    '[ametadata@s1 @ 0x55] [info] lavfi.r128.I=-15.035',
    '[ametadata@s1 @ 0x55] [info] lavfi.r128.I=-15.038',
    '[ametadata@s0 @ 0x56] [info] lavfi.r128.I=-70.000',
    '[astats@s0 @ 0x57] [info] Number of samples: 1000',
    '[astats@s1 @ 0x58] [info] Number of samples: 192512',
  ]) {
    log.addStderr(line);
  }
  log.addStdout('0,a,MD5=a14eae43');
  log.addStdout('1,a,MD5=b14eae43');

  it('gives the last loudness of each track, none where the gate of −70 LUFS was never passed', () => {
    expect(log.result(3)).toEqual([
      { samples: 1000, loudness: null, hash: 'a14eae43' },
      { samples: 192512, loudness: -15.038, hash: 'b14eae43' },
      { samples: 0, loudness: null, hash: null },
    ]);
  });

  it('tells errors from everything else', () => {
    expect(
      errorInLog('[ffv1 @ 0x563a5c18b780] [error] slice CRC mismatch 95C61F9B!at 2.000000 seconds'),
    ).toBe('slice CRC mismatch 95C61F9B!at 2.000000 seconds');
    expect(errorInLog('[fatal] file:/x.mov: corrupt decoded frame in stream 0')).toBe(
      'file:/x.mov: corrupt decoded frame in stream 0',
    );
    expect(errorInLog('[mov,mp4 @ 0x5] [warning] something')).toBeNull();
    expect(errorInLog('[info]     title           : [error] a film of that name')).toBeNull();
  });
});

describe('pictures', () => {
  it('have their hashes and their number read', () => {
    expect(parsePictureHash('0,          0,          0,        1,    86400, 8f2c00aa')).toBe('8f2c00aa');
    expect(parsePictureHash('#stream#, dts,        pts, duration,     size, hash')).toBeNull();
    expect(parseProgressFrame('frame=250')).toBe(250);
    expect(parseProgressFrame('fps=25.0')).toBeNull();
  });

  it('are all equal, or named', () => {
    expect(checkSameHashes(['a', 'b', 'c'], ['a', 'b', 'c'], 'yuv420p').ok).toBe(true);
    expect(checkSameHashes(['a', 'b', 'c'], ['a', 'x', 'c'], 'yuv420p')).toMatchObject({
      ok: false,
      frames: [1],
    });
    expect(checkSameHashes(['a', 'b', 'c'], ['a', 'b'], 'yuv420p')).toMatchObject({ ok: false, frames: [2] });
    expect(checkSameHashes(['a'], ['a', 'b'], 'yuv420p').ok).toBe(false);
    expect(checkSameHashes([], [], 'yuv420p').ok).toBe(false);
  });

  it('have to be as many as are due, and without an error', () => {
    const decoded = { ok: true, errors: [], frames: 250, framesDue: 250 };
    expect(checkDecoded(decoded).map((check) => check.ok)).toEqual([true, true]);
    // Half a file decodes half the film and ends well.
    expect(checkDecoded({ ...decoded, frames: 125 }).map((check) => check.ok)).toEqual([true, false]);
    expect(checkDecoded({ ...decoded, ok: false, errors: ['slice CRC mismatch'] })[0]).toMatchObject({
      ok: false,
      measured: 'slice CRC mismatch',
    });
  });
});

describe('a verdict', () => {
  it('names each frame once, in order, and not a whole film', () => {
    const frames = Array.from({ length: namedFrames + 3 }, (_, i) => namedFrames + 2 - i);
    const result = verdict({ name: 'time', ok: false, measured: '', limit: '', frames: [...frames, 7] });
    expect(result.frames).toHaveLength(namedFrames);
    expect(result.frames.slice(0, 3)).toEqual([0, 1, 2]);
    expect(result.note).toBe('3 more frames are not named here');
  });

  it('counts and lists in words', () => {
    expect([counted(1, 'frame'), counted(2, 'frame')]).toEqual(['1 frame', '2 frames']);
    expect(listed(['a', 'b', 'c'], 'none', 2)).toBe('a; b; and 1 more');
    expect(listed([], 'none')).toBe('none');
  });
});
