package main

import (
	"cmp"
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/trial"
	"dropwright/bundle/unit"
	"dropwright/series/catalogue"
)

func (a *app) trialCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "trial [DESIGN|WEEK]...",
		Short: "log test prints; list them; learn from them",
		Long: `Lists the logged test prints of the series, or of some designs: what each weighed and took against
the model, whether it was accepted, and whether the mesh has changed since. They are kept in
trials.jsonl beside series.yaml, one line a print.`,
		Example:           "  dropwright trial add vent-minder/case ce bench 61g 4h35 ok \"usb tight\"\n  dropwright trial add case ce hole 3.4=3.21\n  dropwright trial fit",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.trialList(args) },
	}
	a.formatFlag(cmd, "text", "json")
	cmd.AddCommand(a.trialAddCmd(), a.trialRemoveCmd(), a.trialFitCmd())
	return cmd
}

// listed is a record as it is listed.
type listed struct {
	trial.Record
	number  int   // in the log, from 1: what trial remove takes
	Changed *bool `json:"changed,omitempty"` // the part's mesh is another one now; nil: not known
}

func (a *app) trialList(words []string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	names, err := a.choose(s, words, true)
	if err != nil {
		return err
	}
	log, _, err := a.trials(s)
	if err != nil {
		return err
	}
	now := a.meshChanged(s)
	out := []listed{}
	for i, r := range log {
		if len(words) == 0 && len(names) == len(s.Names) || slices.Contains(names, r.Design) {
			out = append(out, listed{r, i + 1, now(r)})
		}
	}
	if a.format == "json" {
		return a.asJSON(out)
	}
	if len(out) == 0 {
		fmt.Fprintln(a.stdout, "no trial is logged yet: `dropwright trial add PART 41g 2h35 ok` logs one")
		return nil
	}
	zone := time.UTC
	if cal, err := a.calendar(s); err == nil {
		zone = cal.Zone().In(a.now()).Location()
	}
	rows := [][]string{{"\tno.", "day", "part", "printer", "filament", "\tgrams", "\tof model", "\ttime", "\tof model", "outcome", "mesh", "holes", "note"}}
	for _, l := range out {
		r := l.Record
		grams, gramsOf, took, tookOf := "", "", "", ""
		if r.Grams > 0 {
			grams = unit.Mass(r.Grams).String()
		}
		if r.Seconds > 0 {
			took = unit.Duration(r.Seconds).String()
		}
		if m := r.Model; m != nil {
			gramsOf, tookOf = ratio(r.Grams, m.Grams), ratio(r.Seconds, m.Seconds)
		}
		part := strings.TrimPrefix(r.Design+"/"+r.Part, "/")
		if r.Variant != "" {
			part += " " + r.Variant
		}
		if r.Copies > 1 {
			part += fmt.Sprintf(" × %d", r.Copies)
		}
		mesh := ""
		if l.Changed != nil {
			mesh = map[bool]string{true: "changed since", false: "as now"}[*l.Changed]
		}
		rows = append(rows, []string{"\t" + strconv.Itoa(l.number), r.At.In(zone).Format("2006-01-02"), part, r.Printer, r.Filament, "\t" + grams, "\t" + gramsOf, "\t" + took, "\t" + tookOf, r.Outcome, mesh, holesText(r.Holes), r.Note})
	}
	a.ui.table(withoutEmpty(rows))
	return nil
}

func ratio(measured, model float64) string {
	if measured <= 0 || model <= 0 {
		return ""
	}
	return fmt.Sprintf("× %.2f", measured/model)
}

func holesText(holes []trial.Hole) string {
	var out []string
	for _, h := range holes {
		out = append(out, unit.Number(h.Drawn)+"="+unit.Number(h.Measured))
	}
	return strings.Join(out, " ")
}

// withoutEmpty takes out the columns that hold nothing but their head.
func withoutEmpty(rows [][]string) [][]string {
	for i := len(rows[0]) - 1; i >= 0; i-- {
		if !slices.ContainsFunc(rows[1:], func(r []string) bool { return strings.TrimSpace(r[i]) != "" }) {
			rows = without(rows, i)
		}
	}
	return rows
}

func (a *app) trialFitCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "fit",
		Short: "print what was learnt from the trials",
		Long: `Prints, per printer and material, by which factor accepted prints weigh more than the model says and
take longer, and by how much holes come out narrower than drawn; each with the spread that 19 of 20
prints keep to, and the number of trials it rests on. A figure is used from three trials on.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return a.trialFit() },
	}
	a.formatFlag(cmd, "text", "json")
	return cmd
}

// jsonFit is one figure that was learnt.
type jsonFit struct {
	Value  float64 `json:"value"`
	Spread float64 `json:"spread"`
	Trials int     `json:"trials"`
	Left   int     `json:"left_out"`
	Used   bool    `json:"used"`
}

func fitJSON(f trial.Fit) *jsonFit {
	if f.Used == 0 {
		return nil
	}
	return &jsonFit{f.Value, f.Spread, f.Used, f.Dropped, f.Enough()}
}

func (a *app) trialFit() error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	log, _, err := a.trials(s)
	if err != nil {
		return err
	}
	list := trial.Calibrate(log)
	if a.format == "json" {
		type row struct {
			Printer  string   `json:"printer"`
			Material string   `json:"material"`
			Prints   int      `json:"prints"`
			Failures int      `json:"failures"`
			Grams    *jsonFit `json:"grams_factor,omitempty"`
			Seconds  *jsonFit `json:"seconds_factor,omitempty"`
			Hole     *jsonFit `json:"hole_allowance_mm,omitempty"`
		}
		out := []row{}
		for _, f := range list {
			out = append(out, row{f.Printer, f.Material, f.Prints, f.Failures, fitJSON(f.Grams), fitJSON(f.Seconds), fitJSON(f.Hole)})
		}
		return a.asJSON(out)
	}
	if len(list) == 0 {
		fmt.Fprintln(a.stdout, "nothing is learnt yet: `dropwright trial add PART 41g 2h35 ok` logs a print")
		return nil
	}
	for _, f := range list {
		failed := ""
		if f.Failures > 0 {
			failed = fmt.Sprintf(", %d of them failed", f.Failures)
		}
		fmt.Fprintf(a.stdout, "%s in %s: %s%s\n", f.Printer, f.Material, plural(f.Prints, "print"), failed)
		factor := func(what string, x trial.Fit) {
			if x.Used > 0 {
				fmt.Fprintf(a.stdout, "  %-6s × %.3f%s\n", what, x.Value, fitText(x, fmt.Sprintf("± %.0f %%", 100*x.Spread)))
			}
		}
		factor("mass", f.Grams)
		factor("time", f.Seconds)
		if f.Hole.Used > 0 {
			fmt.Fprintf(a.stdout, "  %-6s %.2f mm narrower than drawn%s\n", "holes", f.Hole.Value, fitText(f.Hole, fmt.Sprintf("± %.2f mm", f.Hole.Spread)))
		}
	}
	return nil
}

// fitText says how far a figure is to be trusted.
func fitText(f trial.Fit, spread string) string {
	left := ""
	if f.Dropped > 0 {
		left = fmt.Sprintf(", %s left out", plural(f.Dropped, "outlier"))
	}
	if !f.Enough() {
		return fmt.Sprintf(", from %s%s: not used before there are %d", plural(f.Used, "trial"), left, trial.Least)
	}
	return fmt.Sprintf(" %s, from %s%s", spread, plural(f.Used, "trial"), left)
}

func (a *app) trialAddCmd() *cobra.Command {
	var sure bool
	cmd := &cobra.Command{
		Use:   "add PART|DESIGN/PART [MASS] [TIME] [ok|failed] [hole DRAWN=MEASURED] [NOTE]...",
		Short: "log one test print, in one line",
		Long: `Logs one test print: the part, what it weighs, how long the printer took from start to finish, whether
it was accepted, holes as drawn and as measured, a note; in any order. Printer and filament are the
last used unless they are named, the variant is needed only where the mesh depends on it. x4 says
that four copies were printed, weighed and timed together. Failed prints count too. Where a stock is kept,
the print takes its grams off a spool of the filament: the open one nearest its end that holds them.`,
		Example:           "  dropwright trial add rain-tipper/base bench 30g 1h40 ok \"fits the foot\"\n  dropwright trial add vent-minder/case stack shelf moss 255m 78.5g failed \"warped at the rear\"\n  dropwright trial add rain-tipper/base hole 3.4=3.21 hole 5=4.78",
		ValidArgsFunction: a.completeParts,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.trialAdd(args, sure) },
	}
	cmd.Flags().BoolVar(&sure, "sure", false, "log it though it weighs three times what the model says, or a third")
	return cmd
}

// partsOf are the parts of a design that can be printed, in order.
func partsOf(d *design.Design) []string {
	var out []string
	for _, p := range d.Parts {
		if p.Role.V != "reference" {
			out = append(out, string(p.Name.V))
		}
	}
	return out
}

// trialDesign finds the design that the words are about, and the words without its name.
func (a *app) trialDesign(s *season, words []string) (*catalogue.Entry, []string, error) {
	load := func(name string) (*catalogue.Entry, error) {
		e, err := s.Load(name)
		if err != nil {
			return nil, machine("check that you may read the folder", "%w", err)
		}
		if e.Design == nil || finding.Count(e.Findings, finding.Error) > 0 {
			return nil, unreadable("`dropwright check "+name+"` says where", "the manifest of %s cannot be read as meant", name)
		}
		return e, nil
	}
	rest := slices.Clone(words)
	for i, w := range rest {
		name, part, slash := strings.Cut(strings.TrimPrefix(w, catalogue.DesignsDir+"/"), "/")
		if !s.Has(name) || strings.ContainsAny(w, " \t") {
			if near := finding.Nearest(name, s.Names); slash && near != "" && i == 0 {
				return nil, nil, usage("did you mean "+near+"/"+part+"?", "no design is called %q", name)
			}
			continue
		}
		e, err := load(name)
		if err != nil {
			return nil, nil, err
		}
		if part == "" {
			rest = slices.Delete(rest, i, i+1)
			return e, rest, nil
		}
		if !slices.Contains(partsOf(e.Design), part) {
			return nil, nil, a.noPart(name, part, partsOf(e.Design))
		}
		rest[i] = part
		return e, rest, nil
	}
	if here, err := a.choose(s, nil, false); err == nil {
		e, err := load(here[0])
		return e, rest, err
	}
	var found []*catalogue.Entry
	var parts []string
	for _, name := range s.Names {
		e, err := load(name)
		if err != nil {
			continue // a design that is not named must not stand in the way
		}
		for _, p := range partsOf(e.Design) {
			if slices.Contains(rest, p) {
				found = append(found, e)
				break
			}
			parts = append(parts, name+"/"+p)
		}
	}
	switch len(found) {
	case 1:
		return found[0], rest, nil
	case 0:
		return nil, nil, usage("name one of "+strings.Join(parts, ", "), "which part?")
	}
	var names []string
	for _, e := range found {
		for _, p := range partsOf(e.Design) {
			if slices.Contains(rest, p) {
				names = append(names, e.Name+"/"+p)
			}
		}
	}
	return nil, nil, usage("write "+strings.Join(names, " or "), "more than one design has such a part")
}

func (a *app) noPart(name, part string, have []string) error {
	hint := name + " has: " + strings.Join(have, ", ")
	if near := finding.Nearest(part, have); near != "" {
		hint = "did you mean " + name + "/" + near + "?"
	}
	return usage(hint, "%s has no part %q", name, part)
}

func (a *app) trialAdd(words []string, sure bool) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	log, data, err := a.trials(s)
	if err != nil {
		return err
	}
	e, words, err := a.trialDesign(s, words)
	if err != nil {
		return err
	}
	t := newTrial{app: a, season: s, entry: e}
	r, err := trial.Parse(words, t.names())
	if err != nil {
		return usage("one line, any order: dropwright trial add base 41g 2h35 ok \"usb tight\"", "%w", err)
	}
	if err := t.complete(&r, log); err != nil {
		return err
	}
	if m := r.Model; m != nil && r.Outcome == trial.OK && r.Grams > 0 && m.Grams > 0 && !sure && (r.Grams > farOff*m.Grams || r.Grams < m.Grams/farOff) {
		return refused("see whether the part, the copies (x4) and the unit are right; then add --sure", "%s g for %s, and the model says %s: nothing was logged", unit.Number(r.Grams), r.Part, unit.Mass(m.Grams))
	}
	t.misspelt(words, r)
	booked, err := a.bookTrial(s, &r, func(r trial.Record) error {
		if err := appendTrial(s, data, r); err != nil {
			return machine("check the space on the disk and that "+path.Join(s.Shown, trialsFile)+" may be written", "logging the trial: %w", err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	fmt.Fprintln(a.stdout, t.said(r))
	for _, l := range booked {
		fmt.Fprintln(a.stdout, l)
	}
	a.learntSince(log, r)
	return nil
}

// farOff is how many times more or less than the model a print that came out may weigh without a question: more
// is likely another part or a slip of the keyboard. Common sense, no source.
const farOff = 3

// learntSince says what the new record changed.
func (a *app) learntSince(log []trial.Record, r trial.Record) {
	was, _ := trial.Find(trial.Calibrate(log), r.Printer, r.Material)
	now, _ := trial.Find(trial.Calibrate(append(slices.Clip(log), r)), r.Printer, r.Material)
	if (now.Grams.Enough() || now.Seconds.Enough() || now.Hole.Enough()) && (was.Grams.Used != now.Grams.Used || was.Seconds.Used != now.Seconds.Used || was.Hole.Used != now.Hole.Used) {
		a.ui.say("estimates on %s in %s now rest on %s; `dropwright trial fit` shows them", r.Printer, r.Material,
			plural(max(now.Grams.Used, now.Seconds.Used, now.Hole.Used), "trial"))
	}
}

// completeParts offers the parts of the designs to the shell.
func (a *app) completeParts(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return []string{trial.OK, trial.Failed, "hole"}, cobra.ShellCompDirectiveNoFileComp
	}
	s, err := a.openSeries()
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	defer s.close()
	var out []string
	for _, n := range s.Names {
		e, err := s.Load(n)
		if err != nil || e.Design == nil {
			continue
		}
		for _, p := range partsOf(e.Design) {
			out = append(out, n+"/"+p)
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

// orNone is a text that stands where nothing is known.
func orNone(s string) string { return cmp.Or(s, "none") }
