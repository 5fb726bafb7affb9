// What every page of this program begins with.

const $ = (id) => document.getElementById(id);
