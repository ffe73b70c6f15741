// Package findings says what will go wrong with a print, in words a librarian
// can pass on. Each finding has a severity (note, ask the patron, stops the
// print), the numbers behind it, and the places in the model it points at.
//
// It changes nothing and prices nothing: facts go in, findings come out, and a
// fact that is not known leaves its findings out.
//
// The idea: a message claims no more than was proved. What facets tell exactly
// (overhangs, where something begins in mid-air, how a part stands) is measured
// on facets; what layers and touching balls tell (thin walls, gaps, bridges) is
// sampled within a budget and said with "about"; whether something fits in any
// pose is decided by branch and bound, which proves either answer or admits that
// it does not know.
//
// Findings that stop a print: two-materials, over-longest-print, nothing-solid,
// too-big, turn-to-fit, no-room-for-base. That stop it or ask: too-small,
// may-topple, floating, open-contours. That ask: unit-doubtful, more-than-a-spool,
// not-solid, inside-out, small-part, below-platform, surface-colour. That ask or
// note: small-contact, starts-in-air, overhangs, thin-walls, thin-sheets, narrow-gaps,
// open-contours. That ask: small-features. Notes: weak-walls, bridges, may-sway,
// may-warp, unit-judged, odd-file, healed, touching-edges, cavities, several-pieces,
// cautions.
package findings
