// Day or dark, left or right hand: chosen by hand, kept, and set before anything is drawn.
for (const key of ["theme", "hand"]) {
  const chosen = localStorage.getItem(`mat-${key}`);
  if (chosen) document.documentElement.dataset[key] = chosen;
}
