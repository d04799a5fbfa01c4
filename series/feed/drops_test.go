package feed

import (
	"testing"

	"dropwright/series/ledger"
)

// TestDerive: the example of RFC 9562 appendix B.2 (namespace DNS, name www.example.com), from memory.
func TestDerive(t *testing.T) {
	dns, err := ParseUUID("6ba7b810-9dad-11d1-80b4-00c04fd430c8")
	if err != nil {
		t.Fatal(err)
	}
	if got := Derive(dns, "www.example.com").String(); got != "5c146b14-3c52-8afd-938a-375d0df1fbf6" {
		t.Errorf("RFC 9562 B.2: %s", got)
	}
	if Derive(dns, "www.example.com") == Derive(dns, "www.example.org") || Derive(dns, "a") == Derive(UUID{}, "a") {
		t.Error("two names have one identity")
	}
	for _, wrong := range []string{"", "urn:uuid:0", "6ba7b8109dad11d180b400c04fd430c8", "6ba7b810-9dad-11d1-80b4-00c04fd430cg", "6ba7b810-9dad-11d1-80b4-00c04fd430c8 "} {
		if u, err := ParseUUID(wrong); err == nil {
			t.Errorf("%q is read as %s", wrong, u)
		}
	}
}

// TestDrops follows two designs through promises and moves.
func TestDrops(t *testing.T) {
	records := []ledger.Record{
		promise("vent-minder", 3, uid, t0, day("early", 14), day("public", 42)),
		promise("soil-stake", 1, "", t0.AddDate(0, 0, 1), day("early", 0), day("public", 21)),
		move("vent-minder", 3, t0.AddDate(0, 0, 2), day("early", 14), day("public", 49)),
		move("vent-minder", 4, t0.AddDate(0, 0, 3), day("early", 21), day("public", 49)),
		{Kind: ledger.Move, At: t0.AddDate(0, 0, 4), Design: "soil-stake", Because: "given up"},
		promise("seed-dryer", 3, "", t0.AddDate(0, 0, 5), day("early", 14)),
	}
	log := logOf(t, records...)
	got := map[string]Drop{}
	for _, d := range Drops(log) {
		got[d.Design+" "+d.Audience] = d
	}
	for name, want := range map[string]Drop{
		"vent-minder early":  {Week: 4, Sequence: 1, Due: t0.AddDate(0, 0, 21), Modified: t0.AddDate(0, 0, 3)},
		"vent-minder public": {Week: 4, Sequence: 1, Due: t0.AddDate(0, 0, 49), Modified: t0.AddDate(0, 0, 2)},
		"soil-stake public":  {Week: 1, Sequence: 1, Due: t0.AddDate(0, 0, 21), Modified: t0.AddDate(0, 0, 4), Cancelled: true},
		"seed-dryer early":   {Week: 3, Sequence: 0, Due: t0.AddDate(0, 0, 14), Modified: t0.AddDate(0, 0, 5)},
	} {
		g := got[name]
		if g.Week != want.Week || g.Sequence != want.Sequence || !g.Due.Equal(want.Due) || !g.Modified.Equal(want.Modified) || g.Cancelled != want.Cancelled {
			t.Errorf("%s: %+v", name, g)
		}
	}
	if len(got) != 5 {
		t.Errorf("%d drops", len(got))
	}
	// Promised again, it is in the calendar again, under its old UID and with a higher number.
	again := logOf(t, append(records, promise("soil-stake", 6, "", t0.AddDate(0, 0, 6), day("early", 35), day("public", 56)))...)
	for _, d := range Drops(again) {
		if was := got["soil-stake "+d.Audience]; d.Design == "soil-stake" && (d.Cancelled || d.Sequence != 2 || d.UID != was.UID) {
			t.Errorf("promised again: %+v, it was %+v", d, was)
		}
	}
}

// TestUIDsStay: an event keeps its UID from the day on which its week is only a week, whatever is promised, moved
// and recorded later; and no two events ever share one.
func TestUIDsStay(t *testing.T) {
	log := logOf(t)
	week3 := WeekUID(log, "public", 3)
	records := []ledger.Record{promise("vent-minder", 3, uid, t0, day("early", 14), day("public", 42))}
	log = logOf(t, records...)
	before := Drops(log)
	if before[1].UID != week3 || before[0].UID == week3 {
		t.Errorf("week 3 was %s, its design got %s for the public and %s for supporters", week3, before[1].UID, before[0].UID)
	}
	records = append(records, move("vent-minder", 5, t0, day("early", 28), day("public", 56)))
	next := WeekUID(logOf(t, records...), "public", 3)
	if next == week3 {
		t.Error("the week that a design left has the UID that the design took along")
	}
	records = append(records, promise("seed-dryer", 3, "", t0, day("early", 14), day("public", 42)), ledger.Record{Kind: ledger.Withdraw, At: t0, Design: "vent-minder", Revision: "1.0.0", Because: "x"})
	log = logOf(t, records...)
	seen := map[string]bool{}
	for _, d := range Drops(log) {
		if d.Design == "vent-minder" && d.Audience == "public" && d.UID != week3 || d.Design == "seed-dryer" && d.Audience == "public" && d.UID != next {
			t.Errorf("the UID of %s changed", d.Design)
		}
		seen[d.UID.String()] = true
	}
	for week := range 12 {
		for _, audience := range []string{"early", "public"} {
			u := WeekUID(log, audience, week).String()
			if seen[u] {
				t.Errorf("two events have the UID %s", u)
			}
			seen[u] = true
		}
	}
	if len(seen) != 4+24 {
		t.Errorf("%d UIDs", len(seen))
	}
	if EntryID(log, "vent-minder") != uid || EntryID(log, "seed-dryer") == EntryID(log, "soil-stake") || !absolute(EntryID(log, "soil-stake")) {
		t.Error("the ids of entries are not those of the ledger")
	}
}
