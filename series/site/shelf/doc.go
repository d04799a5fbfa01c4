// Package shelf makes what the readers of a place see: a page that lists the designs, a page for each, feeds to
// subscribe to and a calendar.
//
// It is made from two things that cannot be ahead of a release: the ledger, and the bundles that were fixed for the
// place's audience, opened by their hashes. The folder of a design is never looked at, so that nothing of a design
// can be told before its day, and a run after a crash makes the same pages as one without. What may be told before
// (a design's `teaser`) is handed in as finished words and pictures ([Coming]); there is no other way in.
//
// The same ledger and bundles give the same bytes: no clock is read, nothing depends on the machine.
//
// # Pages
//
//	index.html              every design of the place, the newest first; what comes next
//	DESIGN/index.html       pictures, what to print and to order, changes with what to print again, dates, files
//	DESIGN/sheet-V.html     the assembly sheet of a variant, as it is in the bundle
//	DESIGN/bom-V.csv        its bill of materials, likewise
//	DESIGN/picture-N.jpg    pictures, DESIGN/cover.jpg a small one
//	coming/week-N.jpg       a picture that a teaser allows
//	feed.atom feed.json     one entry a design, updated by corrections and withdrawals
//	dates.ics               the days of this place's audience
//
// Pages work without scripts, fetch nothing from elsewhere, and link to each other by explicit names, so that they
// work from a folder, a store without an index document, and a web server alike.
//
// # What the public may know
//
// Of a design that is to come the page and the calendar tell the week and its day, because that rhythm is the same
// whatever the design is. Its title stands there with `teaser: title`, a picture with `teaser: picture`. With
// `teaser: nothing`, the default, it is "a new design". A week without a design is not told.
package shelf
