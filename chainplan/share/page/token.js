// Whoever has the link may ask: its token is taken out of sight and goes with every question.

// The token comes in the part of the link that browsers send to nobody; it is kept in a box of this
// browser, under a key.
function take_token(box, key) {
  const given = location.hash.slice(1);
  try {
    if (given) box().setItem(key, given);
    if (given) history.replaceState(null, "", location.pathname);
    return given || box().getItem(key) || "";
  } catch (error) {
    return given;
  }
}

async function ask_server(path, body, wait_ms = 10000) {
  const options = { headers: { Authorization: `Bearer ${token}` }, cache: "no-store" };
  if (body !== undefined) {
    options.method = "POST";
    options.headers["Content-Type"] = "application/json";
    options.body = JSON.stringify(body);
  }
  return fetch(`/api/${path}`, { ...options, signal: AbortSignal.timeout(wait_ms) });
}
