// Before the first picture, so that a dark page is never bright for a moment.
try {
  const theme = localStorage.getItem("pack-theme");
  if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
} catch { /* as the phone */ }
