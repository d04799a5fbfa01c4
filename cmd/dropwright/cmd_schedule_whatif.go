package main

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"dropwright/bundle/finding"
	"dropwright/series/calendar"
	"dropwright/series/ledger"
	"dropwright/series/outlook"
	"dropwright/series/schedule"
)

// question is one change of the season that is only asked about.
type question struct {
	text   string
	drop   string        // a design whose week is taken out
	move   string        // a design that gets another early day,
	day    calendar.Date // this one,
	toWeek int           // or another week
}

// whatIfHelp shows the two forms.
const whatIfHelp = `write --what-if "move vent-minder to 2027-02-19", "move vent-minder to 6" or "drop vent-minder"`

// parseQuestion reads "move X to DATE", "move X to WEEK" or "drop X".
func (a *app) parseQuestion(s *season, text string) (question, error) {
	q := question{text: strings.Join(strings.Fields(text), " ")}
	words := strings.Fields(text)
	name := func(word string) (string, error) {
		if n, err := strconv.Atoi(word); err == nil {
			for _, w := range s.Config.Calendar.Designs {
				if w.Week == n {
					return string(w.Design.V), nil
				}
			}
			return "", usage("`dropwright schedule` prints the weeks", "week %d has no design", n)
		}
		if s.Config.WeekOf(word) == 0 {
			var known []string
			for _, w := range s.Config.Calendar.Designs {
				known = append(known, string(w.Design.V))
			}
			hint := "the calendar has: " + strings.Join(known, ", ")
			if near := finding.Nearest(word, known); near != "" {
				hint = "did you mean " + near + "?"
			}
			return "", usage(hint, "no design of the calendar is called %q", word)
		}
		return word, nil
	}
	var err error
	switch {
	case len(words) == 2 && words[0] == "drop":
		q.drop, err = name(words[1])
	case len(words) == 4 && words[0] == "move" && words[2] == "to":
		if q.move, err = name(words[1]); err != nil {
			return q, err
		}
		if n, nerr := strconv.Atoi(words[3]); nerr == nil {
			q.toWeek = n
			break
		}
		if q.day, err = calendar.ParseDate(words[3]); err != nil {
			return q, usage(whatIfHelp, "--what-if: %w", err)
		}
	default:
		return q, usage(whatIfHelp, "--what-if: %q is no change of the season", text)
	}
	return q, err
}

// whatIf compares the season as it is with the season after some changes, under the same luck. Nothing is written.
func (a *app) whatIf(texts []string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	v, err := a.outlook(s)
	if err != nil {
		return err
	}
	in, err := a.asked(s, v, texts)
	if err != nil {
		return err
	}
	then := outlook.Build(in, a.now())
	if a.format == "json" {
		return a.asJSON(whatIfJSON(texts, v.Season, then))
	}
	return a.whatIfText(texts, v.Season, then, v.input.Calendar)
}

// asked is the input of the season after the changes.
func (a *app) asked(s *season, v *view, texts []string) (outlook.Input, error) {
	in, plan := v.input, v.plan
	want := in.Calendar.Settings()
	want.Designs, want.Overrides = designsOf(in.Calendar), maps.Clone(want.Overrides)
	if want.Overrides == nil {
		want.Overrides = map[string]calendar.Override{}
	}
	moved := map[string]bool{}
	for _, text := range texts {
		q, err := a.parseQuestion(s, text)
		if err != nil {
			return in, err
		}
		about := q.move + q.drop
		for _, w := range v.Weeks {
			if w.Design == about && w.Out {
				return in, refused("ask about a week that is still to come", "%s has gone out already", about)
			}
		}
		switch {
		case q.drop != "":
			in.Dropped = append(in.Dropped, q.drop)
		case q.toWeek > 0:
			week := s.Config.WeekOf(q.move)
			other := want.Designs[q.toWeek]
			if q.toWeek > want.Weeks {
				return in, usage("`dropwright schedule` prints the weeks", "the season has %d weeks, found week %d", want.Weeks, q.toWeek)
			}
			delete(want.Designs, week)
			if want.Designs[q.toWeek] = q.move; other != "" && other != q.move { // the two change places
				want.Designs[week] = other
				moved[other] = true
			}
			moved[q.move] = true
		default:
			o := want.Overrides[q.move]
			o.Early = q.day
			want.Overrides[q.move] = o
			moved[q.move] = true
		}
	}
	cal, problems := calendar.New(want)
	if len(problems) > 0 {
		return in, usage(problems[0].Hint, "the calendar would not work out: %s", problems[0].Text)
	}
	// A promised date stands until a move is recorded: the question asks as if it were.
	log := &ledger.Log{Path: in.Ledger.Path, Entries: slices.Clone(in.Ledger.Entries)}
	for _, name := range slices.Sorted(maps.Keys(moved)) {
		if slot, ok := cal.SlotOf(name); ok && len(log.Dates(name)) > 0 {
			log.Entries = append(log.Entries, ledger.Entry{Record: ledger.Record{Kind: ledger.Move, Design: name, Week: slot.Week, Dates: schedule.Dates(slot), Because: "asked"}})
		}
	}
	in.Calendar, in.Ledger, plan.Calendar, plan.Ledger = cal, log, cal, log
	in.Weeks = a.weeksOf(s, plan, in.Designs)
	return in, nil
}

// jsonWhatIf is a comparison.
type jsonWhatIf struct {
	Asked  []string         `json:"asked"`
	Basis  string           `json:"basis"`
	Says   string           `json:"says"`
	Finest int              `json:"finest_percent"`
	Runs   int              `json:"runs"`
	Now    jsonWhatIfSide   `json:"now"`
	Then   jsonWhatIfSide   `json:"then"`
	Weeks  []jsonWhatIfWeek `json:"weeks"`
}

type jsonWhatIfSide struct {
	All           *float64  `json:"all,omitempty"`
	StandardError float64   `json:"standard_error"`
	Reserve       int       `json:"weeks_in_reserve"`
	Breaks        time.Time `json:"breaks,omitzero"`
	More          *int      `json:"more_for_90,omitempty"`
}

type jsonWhatIfWeek struct {
	Week   int       `json:"week"`
	Design string    `json:"design,omitempty"`
	Early  time.Time `json:"early,omitzero"`       // as it is now; zero: it has no such week now
	After  time.Time `json:"early_after,omitzero"` // zero: dropped
	Now    *float64  `json:"chance,omitempty"`
	Then   *float64  `json:"chance_after,omitempty"`
}

func whatIfJSON(texts []string, now, then outlook.Season) jsonWhatIf {
	side := func(s outlook.Season) jsonWhatIfSide {
		return jsonWhatIfSide{s.Odds.All, s.Odds.StandardError, s.Reserve.Weeks, s.Reserve.Breaks, s.Odds.MoreFor90}
	}
	return jsonWhatIf{texts, now.Odds.Basis, now.Odds.Says, now.Odds.Finest, now.Odds.Runs, side(now), side(then), besideWeeks(now, then)}
}

// besideWeeks puts the weeks of both side by side: by design where a week has one, else by its number.
func besideWeeks(now, then outlook.Season) []jsonWhatIfWeek {
	key := func(w outlook.Week) string {
		if w.Design != "" {
			return w.Design
		}
		return fmt.Sprint("week ", w.Week)
	}
	out := []jsonWhatIfWeek{}
	index := map[string]int{}
	for _, w := range now.Weeks {
		if w.Out || w.Chance == nil {
			continue
		}
		index[key(w)] = len(out)
		out = append(out, jsonWhatIfWeek{Week: w.Week, Design: w.Design, Early: w.Early, Now: w.Chance})
	}
	for _, w := range then.Weeks {
		if w.Out || w.Chance == nil {
			continue
		}
		i, ok := index[key(w)]
		if !ok {
			i = len(out)
			out = append(out, jsonWhatIfWeek{Week: w.Week, Design: w.Design})
		}
		out[i].Week, out[i].After, out[i].Then = w.Week, w.Early, w.Chance
	}
	return out
}

func (a *app) whatIfText(texts []string, now, then outlook.Season, cal *calendar.Calendar) error {
	finest := now.Odds.Finest
	chance := func(p *float64) string {
		if p == nil {
			return ""
		}
		return outlook.Percent(*p, finest)
	}
	day := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return cal.Zone().In(t).Format(shortDay)
	}
	fmt.Fprintf(a.stdout, "if: %s\n\n", strings.Join(texts, "; "))
	rows := [][]string{{"week", "design", "early", "then", "\tchance", "\tthen"}}
	for _, w := range besideWeeks(now, then) {
		after, p := "", chance(w.Then)
		switch {
		case w.After.IsZero():
			after, p = "dropped", ""
		case !w.After.Equal(w.Early):
			after = day(w.After)
		}
		name := w.Design
		if name == "" {
			name = "free"
		}
		rows = append(rows, []string{"\t" + strconv.Itoa(w.Week), name, day(w.Early), after, "\t" + chance(w.Now), "\t" + p})
	}
	a.ui.table(rows)
	fmt.Fprintln(a.stdout)
	line := func(what, x, y string) {
		if x == y {
			fmt.Fprintf(a.stdout, "%s: %s, as now\n", what, x)
			return
		}
		fmt.Fprintf(a.stdout, "%s: %s now, %s then\n", what, x, y)
	}
	none := func(s string) string {
		if s == "" {
			return "nothing is to come"
		}
		return s
	}
	line("every coming early day is met", none(chance(now.Odds.All)), none(chance(then.Odds.All)))
	line("in reserve", plural(now.Reserve.Weeks, "week"), plural(then.Reserve.Weeks, "week"))
	breaks := func(s outlook.Season) string {
		if s.Reserve.Breaks.IsZero() {
			return "never"
		}
		return schedule.Day(s.Reserve.Breaks, cal.Zone())
	}
	line("if work stops today, the promise breaks", breaks(now), breaks(then))
	fmt.Fprintf(a.stdout, "  rests on %s\n  under the same luck, %s; nothing was written\n", now.Odds.Says, runsText(now.Odds, max(now.Odds.StandardError, then.Odds.StandardError)))
	return nil
}
