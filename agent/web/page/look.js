// Runs before the first paint: a stored look, unless the address says one.
try {
  const look = new URLSearchParams(location.search).get('look') ?? localStorage.getItem('tonhour.look');
  if (look === 'light' || look === 'dark') document.documentElement.dataset.look = look;
  else if (look === 'auto') delete document.documentElement.dataset.look;
} catch {
  // no storage: the look is the agent's
}
