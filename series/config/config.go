package config

import (
	"fmt"
	"strconv"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/unit"
)

// Series is everything a series.yaml says.
type Series struct {
	File string

	At           finding.Place
	Name         design.Val[design.Name] `yaml:"series" need:"yes" eg:"allotment-instruments" doc:"The series' name."`
	Title        design.Val[design.Text] `yaml:"title" need:"yes" eg:"Allotment Instruments" doc:"What the series is called."`
	design.House                         // what every design of the series inherits
	Calendar     Calendar                `yaml:"calendar" need:"yes" eg:"{first: 2027-01-08, weeks: 12, at: \"17:00\", zone: Europe/Lisbon, public_after: 3 weeks}" doc:"Which design goes out when."`
	Channels     []Channel               `yaml:"channels" doc:"Where each audience gets its files."`
	Audiences    []Audience              `yaml:"audiences" doc:"Paying groups beside early, each with its own delay."`
	History      design.Val[HistoryKind] `yaml:"history" doc:"Where revisions are kept: git, or folder."`
	Plan         Plan                    `yaml:"plan" doc:"What the maker means to do for each design; overview, stock and odds count with it."`
}

// SetPlace keeps the place.
func (s *Series) SetPlace(at finding.Place) { s.At = at }

// Plan is what the maker means to do for each design.
type Plan struct {
	At       finding.Place
	Trials   design.Val[design.Int]        `yaml:"trials" eg:"2" doc:"Test prints of each part until it is accepted; 2 when left out."`
	Builds   design.Val[design.Int]        `yaml:"builds" eg:"1" doc:"Finished builds of each variant for the maker's own use; 1 when left out."`
	Buffer   design.Val[Days]              `yaml:"buffer" eg:"1 day" doc:"From finishing a design to its early drop; 1 day when left out."`
	Delivery design.Val[Days]              `yaml:"delivery" eg:"5 days" doc:"From ordering filament or screws to having them; 5 days when left out."`
	Days     []design.Val[design.Quantity] `yaml:"days_per_design" eg:"[3, 5, 12]" doc:"Least, likeliest and most days that a design takes, until five are finished and tell."`
}

// SetPlace keeps the place.
func (p *Plan) SetPlace(at finding.Place) { p.At = at }

// Calendar is which design goes out when.
type Calendar struct {
	At          finding.Place
	First       design.Val[design.Date]   `yaml:"first" need:"yes" eg:"2027-01-08" doc:"Date of the early drop of week 1."`
	Weeks       design.Val[design.Int]    `yaml:"weeks" need:"yes" eg:"12" doc:"How many weeks the season has."`
	Clock       design.Val[ClockTime]     `yaml:"at" need:"yes" eg:"\"17:00\"" doc:"Wall-clock time of a drop."`
	Zone        design.Val[Zone]          `yaml:"zone" need:"yes" eg:"Europe/Lisbon" doc:"Time zone by Area/City."`
	PublicAfter design.Val[Days]          `yaml:"public_after" need:"yes" eg:"3 weeks" doc:"From the promised early day to the public one."`
	Skip        []design.Val[design.Date] `yaml:"skip" doc:"Days without an early drop; later weeks move on."`
	Leave       []Leave                   `yaml:"leave" doc:"Days on which the maker does not work."`
	Designs     Weeks                     `yaml:"designs" doc:"Week number to design name."`
	Overrides   design.Dict[Override]     `yaml:"overrides" doc:"Dates of single designs that differ."`
}

// SetPlace keeps the place.
func (c *Calendar) SetPlace(at finding.Place) { c.At = at }

// Leave is a stretch of days off, both ends included.
type Leave struct {
	At   finding.Place
	From design.Val[design.Date] `yaml:"from" need:"yes" doc:"First day."`
	To   design.Val[design.Date] `yaml:"to" need:"yes" doc:"Last day."`
	Why  design.Val[design.Text] `yaml:"why" doc:"A word for the overview."`
}

// SetPlace keeps the place.
func (l *Leave) SetPlace(at finding.Place) { l.At = at }

// Override is what differs for one design.
type Override struct {
	PublicAfter design.Val[Days]        `yaml:"public_after" doc:"From its promised early day to its public one."`
	Early       design.Val[design.Date] `yaml:"early" doc:"Date of its early drop."`
	Public      design.Val[design.Date] `yaml:"public" doc:"Date of its public drop."`
	Clock       design.Val[ClockTime]   `yaml:"at" doc:"Wall-clock time of its drops."`
	Because     design.Val[design.Text] `yaml:"because" doc:"Why a promised date moved."`
}

// Channel is where an audience gets its files.
type Channel struct {
	At        finding.Place
	Name      design.Val[design.Name] `yaml:"name" need:"yes" eg:"supporters" doc:"Its name."`
	Audience  design.Val[design.Name] `yaml:"audience" need:"yes" eg:"early" doc:"early, public, or a group of audiences."`
	To        design.Val[design.Text] `yaml:"to" need:"yes" eg:"\"file:../outbox/supporters\"" doc:"file:, hand: or s3: and where."`
	URL       design.Val[design.URL]  `yaml:"url" doc:"Where readers find it."`
	Rehearsal design.Val[design.Bool] `yaml:"rehearsal" doc:"Lets --now move the clock for its releases."`
	MaxBytes  design.Val[Bytes]       `yaml:"max_file" doc:"Largest file that the place takes: 100 MB."`
	MaxFiles  design.Val[design.Int]  `yaml:"max_files" doc:"How many files a post of the place takes."`
	Links     design.Val[Days]        `yaml:"links" eg:"7 days" doc:"How long links to files of a store live, at most 7 days; release --due then keeps them in store/links."`
}

// SetPlace keeps the place.
func (c *Channel) SetPlace(at finding.Place) { c.At = at }

// Audience is a paying group with a delay of its own.
type Audience struct {
	Name  design.Val[design.Name] `yaml:"name" need:"yes" doc:"Its name."`
	After design.Val[Days]        `yaml:"after" need:"yes" doc:"From the promised early day to theirs."`
}

// WeekOf returns the week a design has, 0 when it has none.
func (s *Series) WeekOf(name string) int {
	for _, w := range s.Calendar.Designs {
		if string(w.Design.V) == name {
			return w.Week
		}
	}
	return 0
}

// Weeks is the map from week number to design.
type Weeks []WeekEntry

// WeekEntry is one week with its design.
type WeekEntry struct {
	Week   int
	WeekAt finding.Place
	Design design.Val[design.Name]
}

// Entry makes room for a week.
func (w *Weeks) Entry(key string, at finding.Place) (any, error) {
	n, err := strconv.Atoi(key)
	if err != nil || n < 1 || n > 10_000 || strconv.Itoa(n) != key {
		return nil, fmt.Errorf("expected a week number of 1 or more, found %q", key)
	}
	*w = append(*w, WeekEntry{Week: n, WeekAt: at})
	return &(*w)[len(*w)-1].Design, nil
}

// ClockTime is a wall-clock time, minutes after midnight.
type ClockTime int

// SetText reads "17:00".
func (c *ClockTime) SetText(s string, quoted bool) error {
	h, m, ok := strings.Cut(s, ":")
	hh, err1 := strconv.Atoi(h)
	mm, err2 := strconv.Atoi(m)
	if !ok || len(h) != 2 || len(m) != 2 || err1 != nil || err2 != nil || hh < 0 || hh > 23 || mm < 0 || mm > 59 {
		return fmt.Errorf(`expected a time of day such as "17:00", found %q`, s)
	}
	*c = ClockTime(hh*60 + mm)
	return nil
}

// String prints "17:00".
func (c ClockTime) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// Days is a whole number of calendar days, written "3 weeks" or "10 days".
type Days int

// SetText reads "3 weeks", "1 week", "10 days", "0 days".
func (d *Days) SetText(s string, quoted bool) error {
	num, u, ok := strings.Cut(s, " ")
	n, err := strconv.Atoi(num)
	if !ok || err != nil || n < 0 || n > 3650 {
		return fmt.Errorf("expected a stretch of days such as 3 weeks or 10 days, found %q", s)
	}
	switch strings.TrimSpace(u) {
	case "week", "weeks":
		*d = Days(7 * n)
	case "day", "days":
		*d = Days(n)
	default:
		return fmt.Errorf("expected days or weeks, found %q: months have no fixed length", s)
	}
	return nil
}

// String prints whole weeks as weeks, else days.
func (d Days) String() string {
	n, word := int(d), "day"
	if n%7 == 0 && n > 0 {
		n, word = n/7, "week"
	}
	if n != 1 {
		word += "s"
	}
	return fmt.Sprintf("%d %s", n, word)
}

// Zone is a time zone by its IANA name, Area/City. Whether it exists is asked of the zone database by
// package calendar.
type Zone string

// SetText refuses abbreviations: CET means three different rules in three years, EST5EDT is not a place.
func (z *Zone) SetText(s string, quoted bool) error {
	area, city, ok := strings.Cut(s, "/")
	if s != "UTC" && (!ok || area == "" || city == "" || strings.ContainsAny(s, " \\.")) {
		return fmt.Errorf("expected a time zone such as Europe/Lisbon, found %q", s)
	}
	*z = Zone(s)
	return nil
}

// Bytes is a size of a file.
type Bytes int64

// SetText reads "100 MB" (decimal), "100 MiB" (binary), "500 kB" or plain bytes.
func (b *Bytes) SetText(s string, quoted bool) error {
	num, u, _ := strings.Cut(s, " ")
	factor := map[string]float64{"": 1, "B": 1, "kB": 1e3, "MB": 1e6, "GB": 1e9, "KiB": 1 << 10, "MiB": 1 << 20, "GiB": 1 << 30}[strings.TrimSpace(u)]
	f, err := unit.ParseNumber(num)
	if err != nil || factor == 0 || f <= 0 || f*factor > 1e15 {
		return fmt.Errorf("expected a size such as 100 MB, found %q", s)
	}
	*b = Bytes(f * factor)
	return nil
}

// HistoryKind is where revisions are kept.
type HistoryKind string

// Words lists them; the first is the default.
func (HistoryKind) Words() []string { return []string{"git", "folder"} }
