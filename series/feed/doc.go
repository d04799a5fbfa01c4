// Package feed writes what people subscribe to: Atom feeds (RFC 4287), JSON Feeds (version 1.1) and calendars
// (iCalendar, RFC 5545 and RFC 7986). It also reads from a ledger which dates were promised, moved and taken
// back, because that is what makes the ids, sequence numbers and time stamps of the three stay the same.
//
// It decides nothing: what may be told to whom is for the caller (series/site/shelf). It fetches nothing and
// knows no clock. The same values give the same bytes, whatever the machine, the zone and the order in which
// entries come.
//
// # Ids
//
//   - An entry's id is the UID that a design's first promise got in the ledger. It is compared character by
//     character by feed readers (RFC 4287 section 4.2.6), so it never depends on an address, a title or a week.
//   - A feed's id and the UIDs of events follow from line 1 of the ledger by [Derive]: names without host, path
//     or person, as RFC 7986 section 5.3 asks for.
//
// # Times
//
// Instants are written in UTC with whole seconds. In calendars there is no TZID and hence no VTIMEZONE: every
// reader shows its own wall clock, and none can mistake the zone.
package feed
