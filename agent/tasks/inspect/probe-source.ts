// The questions to ffprobe: what tracks there are, when each packet is due, what the first pictures and sounds carry.
import { MillError } from '#shared/errors.ts';
import { parseRational, type Rational, rational } from '#shared/rational.ts';
import { tellsOfDamage } from '../../media/facts/framehash-line.ts';
import { type Packet, packetListOptions, parsePacketLine } from '../../media/facts/packet-line.ts';
import { collectPicturePackets, type PacketOrder } from '../../media/facts/picture-packets.ts';
import {
  firstPicturesOptions,
  firstSoundOptions,
  headerOptions,
  type ProbeFrame,
  type ProbeHeader,
  type ProbeStream,
  readFirstSound,
  readFrames,
  readHeader,
  sampledPicturesOptions,
} from '../../media/facts/probe-report.ts';
import { collectSoundPackets, type SoundCollector, type SoundSpan } from '../../media/facts/sound-packets.ts';
import { readLimitMs } from '../../media/facts/time-limits.ts';
import { fileInput, guardOptions } from '../../media/safe-input.ts';
import { decisiveLine, runTool, type ToolResult, type ToolRun } from '../../tools/run-tool.ts';
import type { SourceFile } from './source-file.ts';

/** Packets of a sample of pictures: enough to pass the reordering and to see a field pattern. */
const sampledPackets = 24;
/** The same for sound, of all tracks together. */
const firstSoundPackets = 48;
/** Shorter films are of one kind throughout. */
const shortSeconds = 4;

export type Packets = {
  readonly picture: PacketOrder;
  readonly sound: ReadonlyMap<number, SoundSpan | null>;
  /** The demuxer's messages that tell of damage. */
  readonly messages: readonly string[];
};

/** Throws MillError `not-media` when ffmpeg doesn't find what the first bytes promised, `too-large`, `timeout`. */
export async function probeHeader(source: SourceFile, signal: AbortSignal): Promise<ProbeHeader> {
  const result = await probe(source, { options: headerOptions, signal, timeoutMs: readLimitMs(0) });
  const size = result.stderrTail
    .map((line) => /Picture size (\d+x\d+) is invalid/.exec(line)?.[1])
    .find(Boolean);
  if (size !== undefined) {
    throw new MillError(
      'too-large',
      `${source.name} has pictures of ${size} samples, more than is taken here; scale it down first`,
    );
  }
  if (!result.ok) {
    throw new MillError(
      'not-media',
      `${source.name} can not be opened as ${source.demuxer.split(',')[0]}: ${decisiveLine(result)}; copy it again or wrap it anew`,
      { details: { command: result.command, line: decisiveLine(result) } },
    );
  }
  return readHeader(result.stdout);
}

export type PacketRun = {
  readonly source: SourceFile;
  readonly header: ProbeHeader;
  /** The chosen track. */
  readonly picture: ProbeStream;
  readonly signal: AbortSignal;
};

/** Reads through the whole file once. */
export async function probePackets({ source, header, picture, signal }: PacketRun): Promise<Packets> {
  const pictures = collectPicturePackets();
  const tracks = header.streams.filter((track) => track.codec_type === 'audio');
  const sound = new Map(tracks.map((track) => [track.index, collectPackets(track)]));
  const onPacket = (packet: Packet) => {
    if (packet.track === picture.index) pictures.add(packet);
    else sound.get(packet.track)?.add(packet);
  };
  const [messages, first] = await Promise.all([
    listPackets(source, signal, onPacket),
    probeFirstSound(source, tracks, signal),
  ]);
  const spans = [...sound].map(([index, track]) => [index, track.finish(first.get(index) ?? null)] as const);
  return { picture: pictures.finish(), sound: new Map(spans), messages };
}

/** Returns the demuxer's messages that tell of damage. */
async function listPackets(
  source: SourceFile,
  signal: AbortSignal,
  onPacket: (packet: Packet) => void,
): Promise<readonly string[]> {
  const result = await probe(source, {
    options: packetListOptions,
    signal,
    timeoutMs: readLimitMs(source.bytes),
    keepStdout: false,
    onLine: (line, stream) => {
      const packet = stream === 'stdout' ? parsePacketLine(line) : null;
      if (packet) onPacket(packet);
    },
  });
  requireEnd(source, result);
  return result.stderrTail.filter(tellsOfDamage);
}

/** Ticks of the first decoded sound of each track; some decoders drop the encoder's delay without the wrapper telling it. */
async function probeFirstSound(
  source: SourceFile,
  tracks: readonly ProbeStream[],
  signal: AbortSignal,
): Promise<ReadonlyMap<number, number>> {
  // PCM has no delay, and its packets tell all.
  if (tracks.every((track) => track.codec_name.startsWith('pcm_'))) return new Map();
  const result = await probe(source, {
    options: firstSoundOptions(firstSoundPackets),
    signal,
    timeoutMs: readLimitMs(0),
  });
  requireEnd(source, result);
  return result.ok ? readFirstSound(result.stdout) : new Map();
}

/** Pictures from the head and the middle; empty when none of them decodes. */
export async function samplePictures({
  source,
  header,
  picture,
  signal,
}: PacketRun): Promise<readonly ProbeFrame[]> {
  const [start, duration] = [Number(header.format.start_time ?? 0), Number(header.format.duration ?? 0)];
  const options =
    duration > shortSeconds
      ? sampledPicturesOptions(picture.index, sampledPackets, start + duration / 2)
      : firstPicturesOptions(picture.index, sampledPackets);
  const result = await probe(source, { options, signal, timeoutMs: readLimitMs(0) });
  requireEnd(source, result);
  return result.ok ? readFrames(result.stdout) : [];
}

export function timeBaseOf(track: ProbeStream): Rational {
  const base = parseRational(track.time_base);
  return base && base.num > 0 ? base : rational(1, 1000);
}

/** Throws when a run was stopped or took too long; what it then lists is not the whole. */
export function requireEnd(source: SourceFile, result: ToolResult): void {
  if (result.endedBy === 'timeout') {
    throw new MillError(
      'timeout',
      `reading ${source.name} took longer than it may; look at the storage or the network`,
      {
        details: { command: result.command },
      },
    );
  }
  if (result.endedBy === 'stop')
    throw new MillError('stale-attempt', `inspecting ${source.name} was stopped; nothing is to be done`);
}

function collectPackets(track: ProbeStream): SoundCollector {
  return collectSoundPackets(timeBaseOf(track), track.sample_rate ?? 48_000);
}

function probe(
  source: SourceFile,
  run: Omit<ToolRun, 'tool' | 'args'> & { options: readonly string[] },
): Promise<ToolResult> {
  const { options, ...rest } = run;
  const args = [
    '-hide_banner',
    '-loglevel',
    'level+warning',
    ...guardOptions(source.demuxer),
    ...options,
    '-i',
    fileInput(source.local),
  ];
  return runTool({ tool: 'ffprobe', args, ...rest });
}
