// Runs before the first paint, so that a page whose reader chose a theme never flashes the other one.
try {
  const chosen = localStorage.getItem('kilter-theme');
  if (chosen === 'light' || chosen === 'dark') document.documentElement.dataset.theme = chosen;
} catch {
  // Storage is closed to us: the system's choice holds.
}
