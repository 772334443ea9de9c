// ffmpeg's demuxers for the wrappers that we write ourselves, by the full name lists that `-format_whitelist` wants.
import type { Wrapper } from '#shared/house-format.ts';

const isoDemuxer = 'mov,mp4,m4a,3gp,3g2,mj2';

export const wrapperDemuxers: Readonly<Record<Wrapper, string>> = {
  mov: isoDemuxer,
  mp4: isoDemuxer,
  mkv: 'matroska,webm',
};

/** Grains are ISO-family files whatever the deliverable is. */
export const grainDemuxer = isoDemuxer;
