// What a test source is made of and what it claims to be. A recipe is plain data, so that its hash can
// name the cache folder and a test can hold every claim against the finished file.

/** A rational number, in lowest terms: frames per second, or a sample aspect ratio. */
export type Ratio = { readonly num: number; readonly den: number };

export type FieldOrder = 'progressive' | 'tff' | 'bff';

/** SMPTE ST 2086 mastering light and CTA-861.3 content light, in cd/m². */
export type HdrLight = {
  readonly masteringMaxNits: number;
  readonly masteringMinNits: number;
  readonly maxContentNits: number;
  readonly maxAverageNits: number;
};

export type PictureRecipe = {
  readonly width: number;
  readonly height: number;
  readonly rate: Ratio;
  /** Frames drawn. An interlaced frame is woven from two pictures drawn half a frame apart. */
  readonly frames: number;
  /** FFmpeg's name, such as `yuv422p10le`. */
  readonly pixelFormat: string;
  readonly fieldOrder?: FieldOrder;
  readonly sar?: Ratio;
  /** Filters after the pattern and before the pixel format, as a filter chain. */
  readonly filters?: string;
  /** Delay of the picture on the file's clock, in seconds. */
  readonly startsSeconds?: number;
};

export type SoundRecipe = {
  /** Channels of each track, in order. */
  readonly tracks: readonly number[];
  readonly seconds: number;
  /** Delay of the sound on the file's clock, in seconds. */
  readonly startsSeconds?: number;
};

/** What a careful inspection must find in the finished file. */
export type SourceExpectation = {
  /** FFmpeg's demuxer, the first of its names: `mov`, `matroska`, `mpegts` … */
  readonly wrapper: string;
  readonly codec: string;
  /** Pictures that one pass over the file decodes. */
  readonly frames: number;
  /** Frames per second; the nominal rate where `constantRate` is false. */
  readonly rate: Ratio;
  readonly constantRate: boolean;
  /** Stored size, before rotation and sample aspect ratio. */
  readonly width: number;
  readonly height: number;
  readonly sar: Ratio;
  /** Clockwise turn that a player makes before it shows the picture. */
  readonly rotationDegrees: 0 | 90 | 180 | 270;
  readonly fieldOrder: FieldOrder;
  readonly bitDepth: number;
  readonly timecode: { readonly start: string; readonly dropFrame: boolean } | undefined;
  readonly audio: readonly number[];
  /**
   * First sample relative to the first presented picture, negative when sound comes first. The encoder
   * delay that MP2, AC-3 and Opus leave in the file, 11 ms at most, isn't counted.
   */
  readonly audioStartsSeconds: number | undefined;
  readonly hdr: HdrLight | undefined;
  readonly coverArt: boolean;
  /** Whether `ffmpeg -ss`, half a frame early, gives the very pictures of a whole pass wherever it is aimed. */
  readonly exactSeek: boolean;
  /** Whether it can be encoded in pieces; undefined where that depends on how the pieces are cut. */
  readonly splittable: boolean | undefined;
};

export type SourceRecipe = {
  /** One line: why this source is in the collection. */
  readonly what: string;
  readonly extension: string;
  readonly picture: PictureRecipe;
  readonly sound?: SoundRecipe;
  readonly coverArt?: true;
  /** Start timecode, with `;` before the frames for drop-frame. */
  readonly timecode?: string;
  /** FFmpeg output options, separated by blanks; no value may contain one. */
  readonly encode: string;
  /** Options of a second pass that copies the streams of a first file with this extension. */
  readonly remux?: { readonly firstExtension: string; readonly options: string };
  /** Claims that don't follow from the fields above. */
  readonly claims: Pick<SourceExpectation, 'wrapper' | 'codec'> & Partial<SourceExpectation>;
};
