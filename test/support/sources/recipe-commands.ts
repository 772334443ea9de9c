// Turns a recipe into the FFmpeg argument lists that make its file: one encode, and a remux where asked.
import { coverGraph, pictureGraph, soundGraph } from './pattern.ts';
import type { SourceRecipe } from './source-recipe.ts';

const common = ['-nostdin', '-hide_banner', '-v', 'error', '-y'];

/** Without it FFmpeg fills a late start or a gap with doubled frames. */
const everyFrameOnce = ['-fps_mode', 'passthrough'];

/** Argument lists to run in order; the last one writes `path`, earlier ones write beside it. */
export function recipeCommands(recipe: SourceRecipe, path: string): readonly (readonly string[])[] {
  if (recipe.remux === undefined) {
    return [encodeCommand(recipe, path)];
  }
  const firstPath = `${path}.first.${recipe.remux.firstExtension}`;
  return [
    encodeCommand(recipe, firstPath),
    [
      ...common,
      '-i',
      `file:${firstPath}`,
      '-map',
      '0',
      '-c',
      'copy',
      ...words(recipe.remux.options),
      `file:${path}`,
    ],
  ];
}

function encodeCommand(recipe: SourceRecipe, path: string): string[] {
  const inputs = [...pictureInput(recipe), ...soundInputs(recipe), ...coverInput(recipe)];
  const inputCount = inputs.filter((word) => word === '-i').length;
  const maps = Array.from({ length: inputCount }, (_, index) => ['-map', String(index)]).flat();
  const timecode = recipe.timecode === undefined ? [] : ['-timecode', recipe.timecode];
  const options = [...everyFrameOnce, ...fieldOrder(recipe), ...timecode, ...words(recipe.encode)];
  return [...common, ...inputs, ...maps, ...options, `file:${path}`];
}

function pictureInput({ picture }: SourceRecipe): string[] {
  return lavfi(pictureGraph(picture), picture.startsSeconds);
}

function soundInputs({ sound }: SourceRecipe): string[] {
  if (sound === undefined) {
    return [];
  }
  return sound.tracks.flatMap((channels, index) =>
    lavfi(soundGraph({ index, channels, seconds: sound.seconds }), sound.startsSeconds),
  );
}

function coverInput(recipe: SourceRecipe): string[] {
  return recipe.coverArt === undefined ? [] : lavfi(coverGraph());
}

/** Encoders don't take the order from the frames alone. */
function fieldOrder({ picture }: SourceRecipe): string[] {
  switch (picture.fieldOrder) {
    case 'tff':
      return ['-top', '1'];
    case 'bff':
      return ['-top', '0'];
    default:
      return [];
  }
}

function lavfi(graph: string, startsSeconds = 0): string[] {
  return ['-itsoffset', String(startsSeconds), '-f', 'lavfi', '-i', graph];
}

function words(options: string): string[] {
  return options.split(/\s+/).filter((word) => word !== '');
}
