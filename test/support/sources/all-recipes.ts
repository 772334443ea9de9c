// Every test source by its name.
import { geometryRecipes } from './recipes/geometry.ts';
import { h264Recipes } from './recipes/h264.ts';
import { hevcRecipes } from './recipes/hevc.ts';
import { intraOnlyRecipes } from './recipes/intra-only.ts';
import { mpeg2Recipes } from './recipes/mpeg2.ts';
import { rateRecipes } from './recipes/rates.ts';
import { shortAndAttachedRecipes } from './recipes/short-and-attached.ts';
import { soundRecipes } from './recipes/sound.ts';
import { variableRateRecipes } from './recipes/variable-rate.ts';
import { webRecipes } from './recipes/web.ts';
import type { SourceRecipe } from './source-recipe.ts';

export const allRecipes = {
  ...intraOnlyRecipes,
  ...h264Recipes,
  ...hevcRecipes,
  ...mpeg2Recipes,
  ...variableRateRecipes,
  ...webRecipes,
  ...geometryRecipes,
  ...soundRecipes,
  ...rateRecipes,
  ...shortAndAttachedRecipes,
} as const satisfies Record<string, SourceRecipe>;
