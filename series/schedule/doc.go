// Package schedule says what is due: from the calendar, the ledger and the present revisions it works out the
// state of every week and the actions that a time asks for, each with its reasons. It carries nothing out,
// reads no clock and opens no file.
//
// Conventions:
//   - the leading audience is the one that gets a design first among those that have a channel: `early` as a
//     rule. It gets the present revision of the manifest; everybody else gets, from their own day on, the
//     newest revision that the leading audience got and that was not withdrawn;
//   - what the ledger says is out is out, whatever the clock says: a clock that goes back un-publishes nothing;
//   - a date that was promised counts until a Move is recorded: if series.yaml names an earlier one, the
//     promised one stands.
package schedule
