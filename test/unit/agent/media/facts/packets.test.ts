import { describe, expect, test } from 'vitest';
import { rational } from '#shared/rational.ts';
import { parseFramehashLine, tellsOfDamage } from '../../../../../agent/media/facts/framehash-line.ts';
import { listKeyframes } from '../../../../../agent/media/facts/keyframe-list.ts';
import { type Packet, parsePacketLine } from '../../../../../agent/media/facts/packet-line.ts';
import {
  damageOf,
  fromFirstKeyframe,
  undecodableHead,
  whyDecodeAll,
} from '../../../../../agent/media/facts/picture-count.ts';
import { collectPicturePackets, type PacketOrder } from '../../../../../agent/media/facts/picture-packets.ts';
import { collectSoundPackets } from '../../../../../agent/media/facts/sound-packets.ts';

function packet(line: string): Packet {
  const parsed = parsePacketLine(line);
  if (!parsed) throw new Error(`no packet: ${line}`);
  return parsed;
}

function orderOf(lines: readonly string[]): PacketOrder {
  const collector = collectPicturePackets();
  for (const line of lines) collector.add(packet(line));
  return collector.finish();
}

describe('lines of ffprobe', () => {
  test('a packet with side data, in the older and the newer manner of flags', () => {
    expect(packet('1,-1024,-1024,1024,KD,1024,0')).toEqual({
      track: 1,
      pts: -1024,
      dts: -1024,
      duration: 1024,
      keyframe: true,
      discard: true,
      corrupt: false,
      skipSamples: 1024,
      paddingSamples: 0,
    });
    expect(packet('0,N/A,40,N/A,K_C')).toMatchObject({
      pts: null,
      dts: 40,
      duration: null,
      keyframe: true,
      corrupt: true,
    });
    expect(packet('0,40,40,40,__,')).toMatchObject({ keyframe: false, discard: false, skipSamples: 0 });
  });

  test('empty lines are no packets', () => {
    expect(parsePacketLine('')).toBeNull();
    expect(parsePacketLine('0,1')).toBeNull();
  });
});

describe('lines of framehash', () => {
  test('pictures have a time and a number of their hash', () => {
    const one = parseFramehashLine(
      '0,     479479,     479479,     1001,    86400, 8970402d864683e37ff9a7dfafaad42f',
    );
    const other = parseFramehashLine(
      '0,          0,       -512,      512,    86400, 8970402d864693e37ff9a7dfafaad42f',
    );
    expect(one).toEqual({ ticks: 479_479, hash: 0x8970402d86468 });
    expect(other?.ticks).toBe(-512);
    expect(other?.hash).not.toBe(one?.hash);
    expect(parseFramehashLine('#tb 0: 1/25')).toBeNull();
  });

  // Messages of FFmpeg 5.1: on files with changed bytes, and on streams that begin in the middle.
  test.each([
    '[h264 @ 0x56377d987840] [error] Invalid NAL unit size (372191936 > 1186).',
    '[error] Error while decoding stream #0:0: Invalid data found when processing input',
    '[ffv1 @ 0x55b1674ffe00] [error] slice CRC mismatch AAF401F0!at 4.000000 seconds',
    '[warning] file:/x.ts: corrupt decoded frame in stream 0',
    '[mpeg2video @ 0x557fd66b0dc0] [error] ac-tex damaged at 16 0',
  ])('%s tells of damage', (line) => {
    expect(tellsOfDamage(line)).toBe(true);
  });

  test.each([
    '[h264 @ 0x56377d989b40] [error] mmco: unref short failure',
    '[hevc @ 0x5625610f3840] [error] Could not find ref with POC 12',
    '[warning] Guessed Channel Layout for Input Stream #0.1 : mono',
  ])('%s does not', (line) => {
    expect(tellsOfDamage(line)).toBe(false);
  });
});

describe('packets of the picture', () => {
  const reordered = ['0,0,-2,1,K_', '0,3,-1,1,__', '0,1,0,1,__', '0,2,1,1,__', '0,4,2,7,K_'];

  test('come out in presentation order, with keyframes and the last duration', () => {
    const order = orderOf(reordered);
    expect([...order.pts]).toEqual([0, 1, 2, 3, 4]);
    expect([...order.keyTicks]).toEqual([0, 4]);
    expect(order).toMatchObject({ beginsWithKeyframe: true, lastDuration: 7 });
    expect(order.counts).toEqual({
      packets: 5,
      withoutTime: 0,
      discarded: 0,
      corrupt: 0,
      backwards: 0,
      leading: 0,
    });
  });

  test('those that lead a keyframe are counted: stored after it, shown before it', () => {
    expect(orderOf(['0,2,0,1,K_', '0,0,1,1,__', '0,1,2,1,__', '0,3,3,1,__']).counts.leading).toBe(2);
  });

  test('are trusted only where a packet is certainly a picture', () => {
    const why = (codec: string, lines: readonly string[], messages: string[] = []) =>
      whyDecodeAll(codec, orderOf(lines), messages);
    expect(why('h264', reordered)).toBeNull();
    expect(why('vp9', reordered)).toContain('vp9');
    expect(why('mpeg4', reordered)).toContain('mpeg4');
    expect(why('h264', ['0,N/A,0,1,K_'])).toContain('no timestamp');
    expect(why('h264', ['0,0,0,1,KD', '0,1,1,1,__'])).toContain('edit list');
    expect(why('h264', ['0,9,9,1,K_', '0,1,1,1,__'])).toContain('backwards');
    expect(why('h264', ['0,0,0,1,K_', '0,0,1,1,__'])).toContain('share');
    expect(why('h264', ['0,0,0,1,K_C'])).toContain('corrupt');
    expect(why('h264', reordered, ['partial file'])).toContain('damaged');
  });

  test('thousands of packets fit the growing columns', () => {
    const order = orderOf(
      Array.from({ length: 5000 }, (_, k) => `0,${k * 3},${k * 3},3,${k % 10 === 0 ? 'K' : '_'}_`),
    );
    expect(order.pts).toHaveLength(5000);
    expect(order.pts.at(-1)).toBe(14_997);
    expect(order.keyTicks).toHaveLength(500);
  });

  test('those that decode to nothing at the head are counted; any other difference asks for a full decode', () => {
    const due = Float64Array.of(10, 20, 30, 40, 50);
    expect(undecodableHead(due, Float64Array.of(10, 20))).toBe(0);
    expect(undecodableHead(due, Float64Array.of(30, 40, 50))).toBe(2);
    expect(undecodableHead(due, Float64Array.of(10, 30))).toBeNull();
    expect(undecodableHead(due, Float64Array.of(11))).toBeNull();
    expect(undecodableHead(due, new Float64Array())).toBeNull();
  });

  test('guesses before the first keyframe of a cut stream are passed over', () => {
    const cut = orderOf(['0,10,10,1,__', '0,20,20,1,K_', '0,30,30,1,__']);
    expect([...fromFirstKeyframe(cut, Float64Array.of(10, 20, 30))]).toEqual([20, 30]);
    // Leading pictures of a whole stream may well be shown before its first keyframe.
    const whole = orderOf(['0,20,10,1,K_', '0,10,20,1,__', '0,30,30,1,__']);
    expect([...fromFirstKeyframe(whole, Float64Array.of(10, 20, 30))]).toEqual([10, 20, 30]);
  });

  test('damage is told with the number of lost pictures and without addresses or paths', () => {
    const { counts } = orderOf(reordered);
    expect(damageOf(counts, 5, [])).toBeNull();
    const told = damageOf(counts, 3, [
      '[h264 @ 0x56377d987840] [error] Invalid NAL unit size in file:/media/secret/x.mp4',
    ]);
    expect(told).toMatch(/^damaged: 2 of 5 pictures do not decode/);
    expect(told).not.toMatch(/0x|secret/);
  });
});

describe('keyframes', () => {
  test('get the number of their picture; those outside the presentation are left out', () => {
    const list = listKeyframes('h264', Float64Array.of(10, 20, 30, 40), Float64Array.of(0, 10, 35, 40));
    expect(list.allIntra).toBe(false);
    expect(Array.from({ length: list.length }, (_, i) => list.at(i))).toEqual([
      { frame: 0, ticks: 10 },
      { frame: 3, ticks: 40 },
    ]);
  });

  test('an intra-only codec needs no flags, another needs all of them', () => {
    const pts = Float64Array.of(10, 20);
    expect(listKeyframes('prores', pts, Float64Array.of(10))).toMatchObject({ allIntra: true, length: 2 });
    expect(listKeyframes('h264', pts, pts)).toMatchObject({ allIntra: true, length: 2 });
    expect(listKeyframes('ffv1', pts, Float64Array.of(10))).toMatchObject({ allIntra: false, length: 1 });
  });
});

describe('packets of sound', () => {
  const spanOf = (lines: readonly string[], first: number | null = null) => {
    const collector = collectSoundPackets(rational(1, 48_000), 48_000);
    for (const line of lines) collector.add(packet(line));
    return collector.finish(first);
  };

  test('an encoder delay told by side data is passed over, padding at the end too', () => {
    const lines = ['1,-1024,-1024,1024,KD,1024,0', '1,0,0,1024,K_', '1,1024,1024,1024,K_,0,24'];
    expect(spanOf(lines)).toEqual({ startSeconds: 0, endSeconds: 2024 / 48_000, breaks: 0 });
  });

  test('a delay longer than a packet, and one told by discarded packets only', () => {
    expect(
      spanOf(['1,-2112,-2112,1024,KD,2112,0', '1,-1088,-1088,1024,KD', '1,-64,-64,1024,K_'])?.startSeconds,
    ).toBe(0);
    expect(spanOf(['1,-1024,-1024,1024,KD', '1,0,0,1024,K_'])?.startSeconds).toBe(0);
  });

  test('the first decoded sound, where it is known, decides', () => {
    expect(spanOf(['1,-312,-312,960,K_', '1,648,648,960,K_'], 0)?.startSeconds).toBe(0);
  });

  test('breaks of more than 10 ms count, forwards and backwards; rounding does not', () => {
    expect(spanOf(['1,0,0,1024,K_', '1,1030,1030,1024,K_'])?.breaks).toBe(0);
    expect(spanOf(['1,0,0,1024,K_', '1,1600,1600,1024,K_'])?.breaks).toBe(1);
    expect(spanOf(['1,0,0,2048,K_', '1,1024,1024,1024,K_'])?.breaks).toBe(1);
    const clock = collectSoundPackets(rational(1, 1000), 48_000);
    for (const time of [0, 21, 43, 64, 85]) clock.add(packet(`1,${time},${time},21,K_`));
    expect(clock.finish(null)?.breaks).toBe(0);
  });

  test('a track without packets has no span', () => {
    expect(spanOf([])).toBeNull();
  });
});
