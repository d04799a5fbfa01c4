package main

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/finding"
	"dropwright/bundle/fit"
	"dropwright/bundle/hardware"
	"dropwright/bundle/measure"
	"dropwright/bundle/unit"
)

func (a *app) hardwareCmd() *cobra.Command {
	var fewest bool
	cmd := &cobra.Command{
		Use:   "hardware [SIZE|STANDARD|THING]",
		Short: "look up screws, nuts, inserts, fans, filaments; find the fewest sizes",
		Long: `Looks up what is known of a thread size (M2.5), a standard (ISO 4762, DIN 912), a designation
(M3x16), a filament (PETG), a fan (fan 40) or a wire (AWG 24): holes to draw, heads, nuts, inserts
with their spread, each row with its sources and how well it is known. Holes allow for printing too
small by the series' print.hole_allowance, or the usual figure outside a series.

With --fewest, finds the smallest set of screw lengths that serves all joints of the designs named,
or of the whole series.`,
		Example: "  dropwright hardware M2.5\n  dropwright hardware ISO 7380-1 --format json\n  dropwright hardware --fewest",
		RunE: func(cmd *cobra.Command, args []string) error {
			if fewest {
				return a.fewestSizes(args)
			}
			return a.hardware(strings.Join(args, " "))
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return hardwareWords(), cobra.ShellCompDirectiveNoFileComp
		},
	}
	a.formatFlag(cmd, "text", "json")
	cmd.Flags().BoolVar(&fewest, "fewest", false, "the fewest screw lengths for the designs named, or all")
	return cmd
}

// hardwareWords is what can be looked up by one word or number.
func hardwareWords() []string {
	var out []string
	for _, s := range hardware.Sizes() {
		out = append(out, string(s))
	}
	for _, s := range hardware.Standards() {
		out = append(out, s.Number)
	}
	return append(out, hardware.Materials()...)
}

func (a *app) hardware(query string) error {
	if query == "" {
		if a.format == "json" {
			return usage("name a size: `dropwright hardware M3 --format json`", "what should be looked up?")
		}
		a.hardwareContents()
		return nil
	}
	f, ok := hardware.Lookup(query)
	if !ok {
		if a.format != "json" && a.standardsAbout(query) {
			return nil
		}
		hint := "`dropwright hardware` lists what the tables know"
		if thread.MatchString(query) {
			var sizes []string
			for _, s := range hardware.Sizes() {
				sizes = append(sizes, string(s))
			}
			hint = "it has " + strings.Join(sizes, ", ")
		} else if near := finding.Nearest(query, hardwareWords()); near != "" {
			hint = "did you mean `dropwright hardware " + near + "`?"
		}
		return usage(hint, "the tables know nothing of %q", query)
	}
	if a.format == "json" {
		return a.asJSON(f)
	}
	fmt.Fprintln(a.stdout, a.ui.bold(f.Query))
	if size, err := hardware.ParseSize(f.Query); err == nil {
		a.drawnHoles(size)
	}
	for _, t := range f.Tables {
		a.hardwareTable(t)
	}
	fmt.Fprintln(a.stdout, "\nsources")
	for _, s := range f.Sources {
		fmt.Fprintf(a.stdout, "  %s: %s\n", s.ID, s.Ref)
	}
	if _, err := hardware.ParseSize(f.Query); err != nil {
		return nil // no thread, no torque
	}
	fmt.Fprintln(a.stdout, "\nHow tight: no published torque for plastic or inserts was found. Hand tight.")
	return nil
}

// thread is how a thread is written: another size than the one that was meant is no help.
var thread = regexp.MustCompile(`^[Mm]\d+([.,]\d+)?$`)

// standardsAbout lists the standards whose titles hold a word, such as washer; false when none does.
func (a *app) standardsAbout(word string) bool {
	rows := [][]string{{"standard", "what"}}
	for _, s := range hardware.Standards() {
		if strings.Contains(strings.ToLower(s.Title+" "+string(s.Kind)), strings.TrimSuffix(strings.ToLower(word), "s")) && len(word) > 2 {
			rows = append(rows, []string{s.Number, s.Title})
		}
	}
	if len(rows) == 1 {
		return false
	}
	a.ui.table(rows)
	fmt.Fprintf(a.stdout, "\n`dropwright hardware %s` prints one.\n", rows[1][0])
	return true
}

// hardwareContents lists what can be looked up.
func (a *app) hardwareContents() {
	var sizes []string
	for _, s := range hardware.Sizes() {
		sizes = append(sizes, string(s))
	}
	fmt.Fprintf(a.stdout, "sizes: %s\nfilaments: %s\n\n", strings.Join(sizes, ", "), strings.Join(hardware.Materials(), ", "))
	rows := [][]string{{"standard", "what", "head", "instead of it"}}
	for _, s := range hardware.Standards() {
		instead := ""
		if t, ok := hardware.TwinOf(s.Number, "M3"); ok && s.Withdrawn {
			instead = t.ISO
		}
		rows = append(rows, []string{s.Number, s.Title, string(s.Head), instead})
	}
	a.ui.table(rows)
	fmt.Fprintln(a.stdout, "\n`dropwright hardware M3` prints all that is known of a size.")
}

// drawnHoles prints the holes to draw for a size.
func (a *app) drawnHoles(size hardware.Size) {
	allowance, from := a.holeAllowance()
	fmt.Fprintf(a.stdout, "\nholes to draw (mm; holes print %s mm smaller: %s)\n", unit.Number(allowance), from)
	rows := [][]string{{"  for", "usual", "from", "to", "why"}}
	add := func(what string, b hardware.Band, ok bool) {
		if !ok {
			return
		}
		why := b.Basis
		if c := b.Caveat(); c != "" {
			why += "; " + c
		}
		rows = append(rows, []string{"  " + what, "\t" + figure2(b.Usual), "\t" + figure2(b.Min), "\t" + figure2(b.Max), why})
	}
	b, ok := hardware.ClearanceBand(size, allowance)
	add("the screw to pass", b, ok)
	b, ok = hardware.PilotBand(size, allowance)
	add("a thread cut in plastic", b, ok)
	for _, o := range insertWidths(size) {
		n, ok := hardware.InsertHole(size, o, 0, allowance)
		add("an insert "+unit.Number(o)+" wide", n.Hole, ok)
	}
	if n, ok := hardware.NutOf(hardware.DefaultNut, size); ok {
		add("a nut, across the flats", hardware.PocketBand(n, allowance), true)
	}
	a.ui.table(rows)
	if e, ok := hardware.MinEngagement(hardware.IntoPlastic, size); ok {
		i, _ := hardware.MinEngagement(hardware.IntoInsert, size)
		fmt.Fprintf(a.stdout, "\nthread that must bite: %s mm in plastic (%s), %s mm in an insert (%s)\n", unit.Number(e.Least), e.Basis, unit.Number(i.Least), i.Basis)
	}
	if l, _ := hardware.MadeLengths("ISO 4762", size); l != nil {
		var s []string
		for _, x := range l {
			s = append(s, unit.Number(x))
		}
		fmt.Fprintf(a.stdout, "lengths of ISO 4762 that are made: %s mm\n", strings.Join(s, ", "))
	}
}

// figure2 prints a hole to a hundredth of a millimetre.
func figure2(mm float64) string { return fmt.Sprintf("%.2f", mm) }

// holeAllowance is that of the series where there is one.
func (a *app) holeAllowance() (mm float64, from string) {
	if _, err := a.findSeries(); err == nil {
		if s, err := a.openSeries(); err == nil {
			defer s.close()
			if s.Config != nil && s.Config.House.Print.HoleAllowance.Set() {
				return float64(s.Config.House.Print.HoleAllowance.V), "print.hole_allowance of this series"
			}
		}
	}
	mm, p := hardware.HoleAllowance()
	why := "the usual figure"
	if c := p.Caveat(); c != "" {
		why += ", " + c
	}
	return float64(int(mm*1000+0.5)) / 1000, why
}

// insertWidths are the outer diameters of inserts that the tables know for a size, the narrowest first.
func insertWidths(size hardware.Size) []float64 {
	t, _ := hardware.TableOf("insert")
	var out []float64
	for _, r := range t.Rows {
		if o, ok := r.Number("outer"); ok && r.Text("size") == string(size) {
			out = append(out, o)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// hardwareTable prints the rows of one table; columns that hold nothing are left out.
func (a *app) hardwareTable(t hardware.Table) {
	head := t.Title
	if t.Standard != "" {
		head = t.Standard + ": " + head
	}
	if t.Unit != "" {
		head += " (" + t.Unit + ")"
	}
	fmt.Fprintf(a.stdout, "\n%s\n", head)
	var columns []string
	for _, c := range t.Columns {
		for _, r := range t.Rows {
			if r.Text(c) != "" && c != "size" {
				columns = append(columns, c)
				break
			}
		}
	}
	rows := [][]string{append(indentFirst(columns), "how well known")}
	for _, r := range t.Rows {
		var row []string
		for _, c := range columns {
			row = append(row, orDash(r.Text(c)))
		}
		known := r.Confidence.Words() + ": " + strings.Join(r.Sources, ", ")
		if r.Note != "" {
			known += "; " + r.Note
		}
		rows = append(rows, append(indentFirst(row), known))
	}
	a.ui.table(rows)
	if t.Note != "" {
		fmt.Fprintln(a.stdout, "  "+t.Note)
	}
}

// indentFirst is a copy of a row, set in by two.
func indentFirst(row []string) []string {
	out := slices.Clone(row)
	if len(out) > 0 {
		out[0] = "  " + out[0]
	}
	return out
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// fewestResult is --fewest as data.
type fewestResult struct {
	Designs []string          `json:"designs"`
	Joints  int               `json:"joints"`
	Open    int               `json:"not_checked"` // joints whose lengths could not be worked out
	Before  int               `json:"before"`      // lengths in all
	After   int               `json:"after"`
	Sizes   []hardware.Saving `json:"sizes"`
}

// fewestSizes finds the fewest screw lengths for several designs together.
func (a *app) fewestSizes(words []string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	names, err := a.choose(s, words, true)
	if err != nil {
		return err
	}
	out := fewestResult{Designs: names, Sizes: []hardware.Saving{}}
	var demands []hardware.Demand
	for _, n := range names {
		_, w, err := a.examine(s, n, "", measure.Topics{})
		if err != nil {
			return err
		}
		if w == nil {
			return unreadable("`dropwright check "+n+"` says where", "the manifest of %s cannot be read as meant", n)
		}
		if w.Facts.Fit == nil {
			continue
		}
		d := fit.Demands(w.Facts.Fit.Joints, n)
		for _, j := range w.Facts.Fit.Joints {
			if j.Standard != "" {
				out.Joints++
			}
		}
		demands = append(demands, d...)
	}
	out.Open = out.Joints - len(demands)
	out.Sizes = append(out.Sizes, hardware.FewestSizes(demands)...)
	for _, x := range out.Sizes {
		out.Before += len(x.Before)
		out.After += len(x.After)
	}
	if a.format == "json" {
		return a.asJSON(out)
	}
	rows := [][]string{{"screw", "lengths now", "fewest", "change"}}
	for _, x := range out.Sizes {
		var change []string
		for _, c := range x.Changes {
			change = append(change, fmt.Sprintf("%s to %s", c.Where, unit.Number(c.To)))
		}
		for _, u := range x.Unmet {
			change = append(change, u+": no length that is made fits")
		}
		if x.Fewer() <= 0 && len(x.Unmet) == 0 {
			change = nil
		}
		rows = append(rows, []string{x.Standard + " " + string(x.Size), numbers(x.Before), numbers(x.After), orDash(strings.Join(change, "; "))})
	}
	a.ui.table(rows)
	fmt.Fprintf(a.stdout, "\n%s of %s: %d lengths now, %d would do\n", plural(out.Joints, "joint"), plural(len(names), "design"), out.Before, out.After)
	if out.Open > 0 {
		fmt.Fprintf(a.stdout, "%d not checked: `dropwright check` says why\n", out.Open)
	}
	return nil
}

func numbers(l []float64) string {
	var out []string
	for _, x := range l {
		out = append(out, unit.Number(x))
	}
	return strings.Join(out, ", ")
}
