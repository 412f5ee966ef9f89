/** Light or dark: the system's choice unless the reader made one, which is kept in this browser. */
import { signal } from '@preact/signals';

export type Theme = 'light' | 'dark';

const KEY = 'kilter-theme';
const systemDark = matchMedia('(prefers-color-scheme: dark)');
const onPaper = matchMedia('print');

function present(): Theme {
  const chosen = document.documentElement.dataset.theme;
  if (onPaper.matches) return 'light';
  if (chosen === 'light' || chosen === 'dark') return chosen;
  return systemDark.matches ? 'dark' : 'light';
}

/** The theme that is drawn now; charts draw anew when it changes. */
export const theme = signal<Theme>(present());

const settle = () => {
  theme.value = present();
};
systemDark.addEventListener('change', settle);
onPaper.addEventListener('change', settle);

export function chooseTheme(next: Theme): void {
  document.documentElement.dataset.theme = next;
  try {
    localStorage.setItem(KEY, next);
  } catch {
    // Storage is closed to us: the choice holds until the page is left.
  }
  settle();
}
