package ledger

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"
)

// Kind says what a record is about.
type Kind string

// The kinds of version 1, and the fields each uses besides At.
const (
	// Opened is line 1: Format, Series, Rehearsal.
	Opened Kind = "opened"
	// Promise announces a design's dates: Design, Week, Dates, UID (once, with the first promise).
	Promise Kind = "promise"
	// Move changes promised dates: Design, Week, Dates, Because.
	Move Kind = "move"
	// Bundle fixes what a revision is for an audience: Design, Revision, Audience, Objects, Digest, Tool,
	// Go, Source.
	Bundle Kind = "bundle"
	// Intent is written before the first byte goes to a channel: Design, Revision, Audience, Channel, Due,
	// Objects, Digest.
	Intent Kind = "intent"
	// Result answers an intent: Of, Outcome, and the intent's Design, Revision, Audience and Channel.
	Result Kind = "result"
	// Confirm closes a result that was handed over: Of (the result's or intent's seq), Design, Revision,
	// Audience, Channel, When, Link.
	Confirm Kind = "confirm"
	// Withdraw marks a revision: Design, Revision, Because.
	Withdraw Kind = "withdraw"
	// Despite lets an error pass on the maker's word: Design, Revision, Code, Because.
	Despite Kind = "despite"
	// Repair accepts that a target or the ledger was restored from an older copy: Channel, Because.
	Repair Kind = "repair"
)

// The outcomes of a result.
const (
	// Done means that every object and the index are durably at the target.
	Done = "done"
	// HandedOver means that everything is laid out for a person to post; a Confirm follows.
	HandedOver = "handed-over"
	// Abandoned means that the intent will not be carried out; Because says why.
	Abandoned = "abandoned"
)

// Version is the format written.
const Version = 1

// Record is the body of a line. Which fields a kind uses stands with the kinds; the others are empty.
// Times are in UTC with whole seconds.
type Record struct {
	Kind      Kind      `json:"kind"`
	At        time.Time `json:"at"` // the clock of the machine that wrote it
	Format    int       `json:"format,omitempty"`
	Series    string    `json:"series,omitempty"`
	Rehearsal bool      `json:"rehearsal,omitempty"`
	Design    string    `json:"design,omitempty"`
	Revision  string    `json:"revision,omitempty"`
	Audience  string    `json:"audience,omitempty"`
	Channel   string    `json:"channel,omitempty"`
	Week      int       `json:"week,omitempty"`
	Dates     []Date    `json:"dates,omitempty"`
	UID       string    `json:"uid,omitempty"`
	Due       time.Time `json:"due,omitzero"`
	Of        int       `json:"of,omitempty"`
	Outcome   string    `json:"outcome,omitempty"`
	When      time.Time `json:"when,omitzero"`
	Link      string    `json:"link,omitempty"`
	Code      string    `json:"code,omitempty"`
	Because   string    `json:"because,omitempty"`
	Objects   []Object  `json:"objects,omitempty"`
	Digest    string    `json:"digest,omitempty"` // content digest: stable over tool versions
	Tool      string    `json:"tool,omitempty"`
	Go        string    `json:"go,omitempty"`
	Source    string    `json:"source,omitempty"` // the git tag or commit, or "folder"
}

// Date is a promised drop: what was said (wall clock and zone) and what instant that was taken to be, with
// the time zone data of that day.
type Date struct {
	Audience string    `json:"audience"`
	Local    string    `json:"local"` // 2027-01-08 17:00
	Zone     string    `json:"zone"`
	UTC      time.Time `json:"utc"`
	Data     string    `json:"data,omitempty"`
}

// Object is a file by its name at the target, the SHA-256 of its bytes in hex, and its size.
type Object struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
}

// needs lists the fields without which a record of a kind means nothing.
var needs = map[Kind][]string{
	Opened:   {"format", "series"},
	Promise:  {"design", "week", "dates"},
	Move:     {"design"},
	Bundle:   {"design", "revision", "audience", "objects", "digest"},
	Intent:   {"design", "revision", "audience", "channel", "due", "objects"},
	Result:   {"of", "outcome", "design", "revision", "audience", "channel"},
	Confirm:  {"of", "design", "revision", "audience", "channel", "when"},
	Withdraw: {"design", "revision", "because"},
	Despite:  {"design", "revision", "code", "because"},
	Repair:   {"channel", "because"},
}

// check says what a record lacks.
func (r Record) check() error {
	fields, ok := needs[r.Kind]
	if !ok {
		return fmt.Errorf("a record of kind %q: this version knows no such kind", r.Kind)
	}
	has := map[string]bool{
		"format": r.Format > 0, "series": r.Series != "", "design": r.Design != "", "revision": r.Revision != "", "audience": r.Audience != "",
		"channel": r.Channel != "", "week": r.Week > 0, "dates": len(r.Dates) > 0, "due": !r.Due.IsZero(), "of": r.Of > 0, "outcome": r.Outcome != "",
		"when": !r.When.IsZero(), "code": r.Code != "", "because": strings.TrimSpace(r.Because) != "", "objects": len(r.Objects) > 0, "digest": r.Digest != "",
	}
	for _, f := range fields {
		if !has[f] {
			return fmt.Errorf("a record of kind %q without %s", r.Kind, f)
		}
	}
	if r.Outcome != "" && !slices.Contains([]string{Done, HandedOver, Abandoned}, r.Outcome) {
		return fmt.Errorf("a result with the outcome %q: %s, %s and %s exist", r.Outcome, Done, HandedOver, Abandoned)
	}
	return CheckLink(r.Link)
}

// CheckLink refuses what a confirmation may not name as its link: addresses that would let whoever reads the ledger in, now or for as long as the link
// lives. The ledger is often in a public git repository.
func CheckLink(link string) error {
	if link == "" {
		return nil
	}
	u, err := url.Parse(link)
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" {
		return fmt.Errorf("the link is no web address: write it from https:// on")
	}
	if u.User != nil {
		return fmt.Errorf("the link to %q holds a user name or password: leave it out", u.Host)
	}
	for key := range u.Query() {
		switch k := strings.ToLower(key); {
		case strings.HasPrefix(k, "x-amz-"), k == "signature", k == "token", k == "access_token", k == "sig":
			return fmt.Errorf("the link to %q holds the secret %q: give the page's own address", u.Host, key)
		}
	}
	return nil
}

// Sentence explains a record to a person, without its time.
func (r Record) Sentence() string {
	what := strings.TrimSpace(r.Design + " " + r.Revision)
	to := fmt.Sprintf("%s to %s (%s)", what, r.Channel, r.Audience)
	switch r.Kind {
	case Opened:
		if r.Rehearsal {
			return fmt.Sprintf("rehearsal ledger of %s opened", r.Series)
		}
		return fmt.Sprintf("ledger of %s opened", r.Series)
	case Promise, Move:
		verb := "promised for"
		if r.Kind == Move {
			verb = "moved to"
		}
		var dates []string
		for _, d := range r.Dates {
			dates = append(dates, fmt.Sprintf("%s %s %s", d.Audience, d.Local, d.Zone))
		}
		if len(dates) == 0 {
			return fmt.Sprintf("%s taken off the calendar%s", what, because(r.Because))
		}
		return fmt.Sprintf("%s %s week %d: %s%s", what, verb, r.Week, strings.Join(dates, ", "), because(r.Because))
	case Bundle:
		return fmt.Sprintf("%s fixed for %s: %d files, digest %.12s, from %s", what, r.Audience, len(r.Objects), r.Digest, r.Source)
	case Intent:
		return fmt.Sprintf("%s: %d files are to go out, due %s", to, len(r.Objects), r.Due.Format(time.RFC3339))
	case Result:
		switch r.Outcome {
		case Done:
			if r.Because != "" { // of a withdrawal
				return to + ": " + r.Because
			}
			return to + ": out"
		case HandedOver:
			return to + ": laid out for posting by hand, not yet confirmed"
		}
		return fmt.Sprintf("%s: %s%s", to, r.Outcome, because(r.Because))
	case Confirm:
		return strings.TrimSpace(fmt.Sprintf("%s: posted by hand at %s %s", to, r.When.Format(time.RFC3339), r.Link))
	case Withdraw:
		return fmt.Sprintf("%s withdrawn%s", what, because(r.Because))
	case Despite:
		return fmt.Sprintf("%s passes despite %s%s", what, r.Code, because(r.Because))
	case Repair:
		return fmt.Sprintf("%s accepted as it is%s", r.Channel, because(r.Because))
	}
	return string(r.Kind)
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ", because: " + why
}
