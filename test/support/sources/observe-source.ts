// Reads from a finished file what a recipe claims about it, through FFprobe and the decoder alone.
import { type DecodedPicture, decodePictures, type ProbeFields, probe, textField } from '../probe.ts';
import type { FieldOrder, HdrLight, Ratio, SourceExpectation } from './source-recipe.ts';

export type ObservedSource = {
  /** Everything that can be claimed but how it cuts, which takes trial cuts, and the start of the sound. */
  readonly claims: Omit<SourceExpectation, 'exactSeek' | 'splittable' | 'audioStartsSeconds'>;
  readonly audioStartsSeconds: number | undefined;
  readonly pictures: readonly DecodedPicture[];
  /** Seconds in one tick of the picture track's clock. */
  readonly clock: Ratio;
  /** Start of the earliest track, from which FFmpeg counts `-ss`. */
  readonly fileStartSeconds: number;
};

export async function observeSource(path: string): Promise<ObservedSource> {
  const { format, streams, frames } = await probe(path);
  const video = streams.filter((stream) => stream['codec_type'] === 'video');
  const audio = streams.filter((stream) => stream['codec_type'] === 'audio');
  const picture = video.find((stream) => !isCover(stream)) ?? {};
  const firstFrame = firstFrameOf(frames, picture);
  const pictures = await decodePictures(path, { inputOptions: ['-noautorotate'] });
  const rate = ratioField(picture, 'r_frame_rate');
  const clock = ratioField(picture, 'time_base');
  return {
    claims: {
      wrapper: textField(format, 'format_name').replace(/,.*/, ''),
      codec: textField(picture, 'codec_name'),
      frames: pictures.length,
      rate,
      constantRate: isConstant(pictures, rate, clock),
      width: Number(picture['width']),
      height: Number(picture['height']),
      sar: ratioField({ sample_aspect_ratio: '1:1', ...firstFrame }, 'sample_aspect_ratio'),
      rotationDegrees: clockwiseTurn(sideData(picture, 'Display Matrix')['rotation']),
      fieldOrder: fieldOrderOf(firstFrame),
      bitDepth: Number(/p(\d+)le$/.exec(textField(picture, 'pix_fmt'))?.[1] ?? 8),
      timecode: timecodeOf([picture, ...streams, format]),
      audio: audio.map((stream) => Number(stream['channels'])),
      hdr: hdrLight(firstFrame),
      coverArt: video.some(isCover),
    },
    audioStartsSeconds: audio[0] && startSeconds(firstFrameOf(frames, audio[0])) - startSeconds(firstFrame),
    pictures,
    clock,
    fileStartSeconds: Number(format['start_time']),
  };
}

function isCover(stream: ProbeFields): boolean {
  return within(stream, 'disposition')['attached_pic'] === 1;
}

function firstFrameOf(frames: readonly ProbeFields[], stream: ProbeFields): ProbeFields {
  return frames.find((frame) => frame['stream_index'] === stream['index']) ?? {};
}

/** Presentation time, after the decoder has dropped what the file says to skip. */
function startSeconds(frame: ProbeFields): number {
  return Number(textField(frame, 'pts_time'));
}

/** Constant means: picture k stands at k / rate after the first, within one tick of the wrapper's clock. */
function isConstant(pictures: readonly DecodedPicture[], rate: Ratio, clock: Ratio): boolean {
  const tickSeconds = clock.num / clock.den;
  const firstTicks = pictures[0]?.ptsTicks ?? 0;
  return pictures.every(({ ptsTicks }, index) => {
    const dueTicks = (index * rate.den) / rate.num / tickSeconds;
    return Math.abs(ptsTicks - firstTicks - dueTicks) <= 1.001;
  });
}

/** FFprobe counts counter-clockwise. */
function clockwiseTurn(rotation: ProbeFields[string]): 0 | 90 | 180 | 270 {
  const degrees = ((-Number(rotation ?? 0) % 360) + 360) % 360;
  if (degrees !== 0 && degrees !== 90 && degrees !== 180 && degrees !== 270) {
    throw new Error(`Not a quarter turn: ${degrees}`);
  }
  return degrees;
}

function fieldOrderOf(frame: ProbeFields): FieldOrder {
  if (frame['interlaced_frame'] !== 1) {
    return 'progressive';
  }
  return frame['top_field_first'] === 1 ? 'tff' : 'bff';
}

function timecodeOf(owners: readonly ProbeFields[]): SourceExpectation['timecode'] {
  const tags = owners.map((owner) => within(owner, 'tags')).find((found) => found['timecode'] !== undefined);
  const start = tags && textField(tags, 'timecode');
  return start === undefined ? undefined : { start, dropFrame: start.includes(';') };
}

function hdrLight(frame: ProbeFields): HdrLight | undefined {
  const mastering = sideData(frame, 'Mastering display metadata');
  const content = sideData(frame, 'Content light level metadata');
  if (mastering['max_luminance'] === undefined) {
    return undefined;
  }
  return {
    masteringMaxNits: quotient(ratioField(mastering, 'max_luminance')),
    masteringMinNits: quotient(ratioField(mastering, 'min_luminance')),
    maxContentNits: Number(content['max_content']),
    maxAverageNits: Number(content['max_average']),
  };
}

function sideData(owner: ProbeFields, type: string): ProbeFields {
  const list = (owner['side_data_list'] ?? []) as readonly ProbeFields[];
  return list.find((entry) => entry['side_data_type'] === type) ?? {};
}

function within(owner: ProbeFields, field: string): ProbeFields {
  return (owner[field] ?? {}) as ProbeFields;
}

/** `num/den` or `num:den`. */
function ratioField(owner: ProbeFields, name: string): Ratio {
  const [num = Number.NaN, den = Number.NaN] = textField(owner, name).split(/[/:]/).map(Number);
  return { num, den };
}

function quotient({ num, den }: Ratio): number {
  return num / den;
}
