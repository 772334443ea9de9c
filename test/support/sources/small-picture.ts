// The picture that most recipes share: 320×180 at 25 frames/s. A recipe spreads it and changes what matters.
import type { PictureRecipe, Ratio } from './source-recipe.ts';

export const perSecond = (num: number, den = 1): Ratio => ({ num, den });

export const smallPicture = {
  width: 320,
  height: 180,
  rate: perSecond(25),
  frames: 200,
  pixelFormat: 'yuv420p',
} as const satisfies PictureRecipe;
