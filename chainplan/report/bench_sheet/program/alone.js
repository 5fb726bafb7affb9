// The sheet as one file of its own: it knows its plan, and nobody else.

const content = JSON.parse($("content").textContent);

const link = {
  shared: false,
  person: () => "",
  offset_ms: 0,                 // what this device's clock is behind the one that counts
  keep() {},                    // a tap of this sheet
  mine: () => true,             // whether a join is for whoever holds this sheet
  apart: () => "",              // who has taken it, if somebody else has
  state: () => (store.kept ? t("log.kept") : t("log.not_kept")),
  start() {},
};
