// Package stock keeps what lies on the maker's shelf: filament by the spool, fasteners and bought parts in the
// box, finished builds. It reads and writes stock.csv and knows how the numbers change: a spool is weighed, a
// print takes its grams, a pack is opened.
//
// It opens no file and knows no design: names of filaments and parts are handed in. What the coming weeks need
// of it is worked out elsewhere.
//
// Conventions: grams of filament without the spool (net), pieces, builds. Prices are of one full spool or one
// pack, in the series' currency. Lines keep their order; what an operation does not touch stays as it is.
package stock
