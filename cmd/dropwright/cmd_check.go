package main

import (
	"fmt"
	"path"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/bundle/measure"
	"dropwright/bundle/source"
)

func (a *app) checkCmd() *cobra.Command {
	var o checkOptions
	cmd := &cobra.Command{
		Use:   "check [DESIGN|WEEK]...",
		Short: "say what a builder would stumble over",
		Long: `Measures the meshes of one, several or all designs and cross-checks them against the manifest:
files and folder, counts, joints, boards and wiring, colours, print settings, licences and sources,
privacy, texts, steps, pictures, revision, trials. Each finding names the place, what is
wrong and what to type next. What could not be judged is said and counted, never passed.`,
		Example:           "  dropwright check                      # every design\n  dropwright check vent-minder\n  dropwright check 3 --format json      # the design of week 3\n  dropwright check --why count-short    # why it matters, how to mend it",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.check(args, o) },
	}
	a.formatFlag(cmd, "text", "json", "sarif", "md")
	a.variantFlag(cmd)
	cmd.Flags().BoolVar(&o.all, "all", false, "print every finding, not the worst ten of each design")
	cmd.Flags().BoolVar(&o.strict, "strict", false, "warnings count as errors for the exit status")
	cmd.Flags().StringVar(&o.why, "why", "", "explain one code: why it matters and how to mend it")
	cmd.Flags().BoolVar(&o.list, "list", false, "print the table of codes")
	cmd.Flags().StringVar(&o.audience, "for", "", "judge for this audience: early, public")
	_ = cmd.RegisterFlagCompletionFunc("why", cobra.FixedCompletions(finding.Names(), cobra.ShellCompDirectiveNoFileComp))
	_ = cmd.RegisterFlagCompletionFunc("for", cobra.FixedCompletions([]string{"early", "public"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

type checkOptions struct {
	all, strict, list bool
	why, audience     string
}

// checked is what check has to say about one design.
type checked struct {
	Design     string           `json:"design"`
	Revision   string           `json:"revision,omitempty"`
	Findings   []jsonFinding    `json:"findings"`
	NotChecked []jsonNotChecked `json:"not_checked"`
	UsedAsIs   []jsonUsedAsIs   `json:"used_as_is"`

	list   []finding.Finding
	joints int // judged, of all variants
}

type jsonNotChecked struct {
	Variant string `json:"variant,omitempty"`
	File    string `json:"file"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Text    string `json:"text"`
}

type jsonUsedAsIs struct {
	jsonFinding
	Because string `json:"because"`
}

func (a *app) check(words []string, o checkOptions) error {
	if o.list {
		return a.listCodes()
	}
	if o.why != "" {
		return a.whyCode(o.why)
	}
	if o.audience != "" && o.audience != "early" && o.audience != "public" {
		return usage("write --for early or --for public", "--for: expected early or public, found %q", o.audience)
	}
	s, err := a.openSeries()
	if err != nil {
		return err
	}
	defer s.close()
	t := texts{}
	t.add(s.Text)
	all := []checked{}
	total := map[finding.Level]int{}
	count := func(fs []finding.Finding) {
		for _, f := range fs {
			total[f.Level]++
		}
	}
	if len(s.Findings) > 0 {
		count(s.Findings)
		all = append(all, checked{Design: "", Findings: toJSON(s.Findings), NotChecked: []jsonNotChecked{}, UsedAsIs: []jsonUsedAsIs{}, list: s.Findings})
	}
	if s.Config != nil && finding.Count(s.Findings, finding.Error) == 0 {
		names, err := a.choose(s, words, true)
		if err != nil {
			return err
		}
		a.nearIdeas(s)
		if len(names) == 0 {
			a.ui.say("no designs yet: dropwright new NAME starts one")
		}
		for _, n := range names {
			c, err := a.checkOne(s, n, design.Audience(o.audience), t)
			if err != nil {
				return err
			}
			count(c.list)
			all = append(all, c)
		}
	}
	switch a.format {
	case "json":
		if err := a.asJSON(map[string]any{"designs": all, "errors": total[finding.Error], "warnings": total[finding.Warning], "notes": total[finding.Note]}); err != nil {
			return err
		}
	case "sarif":
		if err := a.checkSARIF(all, t); err != nil {
			return err
		}
	case "md":
		a.checkMarkdown(all)
	default:
		a.checkText(all, t, o)
	}
	if total[finding.Error] > 0 || o.strict && total[finding.Warning] > 0 {
		return errFindings
	}
	return nil
}

// nearIdeas says which names of the calendar have no folder and are nearly that of a folder without a week.
func (a *app) nearIdeas(s *season) {
	var free []string
	for _, n := range s.Names {
		if s.Config.WeekOf(n) == 0 {
			free = append(free, n)
		}
	}
	for _, i := range s.Ideas() {
		if near := finding.Nearest(string(i.Design.V), free); near != "" {
			a.ui.say("note: %s: week %d names %s, which has no folder; did you mean %s?", i.Design.At, i.Week, i.Design.V, near)
		}
	}
}

func (a *app) checkOne(s *season, name string, audience design.Audience, t texts) (checked, error) {
	e, w, err := a.examine(s, name, audience, measure.Topics{})
	if err != nil {
		return checked{}, err
	}
	t.add(e.Text)
	c := checked{Design: name, NotChecked: []jsonNotChecked{}, UsedAsIs: []jsonUsedAsIs{}}
	c.list = append(c.list, e.Findings...)
	if e.Design != nil {
		if r := e.Design.Revision(); r != (design.Revision{}) { // one that cannot be read is said, and is not 0.0.0
			c.Revision = r.String()
		}
		if _, err := a.variants(e.Design); err != nil {
			return c, err
		}
	}
	if w != nil {
		c.joints = w.Checked.Joints
		for _, x := range w.Facts.Texts { // findings in a story or a step's text show their line too
			t.add(source.NewText(path.Join(path.Dir(e.Text.File), x.File), []byte(x.Body)))
		}
		c.list = append(c.list, w.Checked.Findings...)
		for _, n := range w.Checked.NotChecked {
			c.NotChecked = append(c.NotChecked, jsonNotChecked{n.Variant, n.At.File, n.At.Line, n.At.Column, n.Text})
		}
		for _, u := range w.Checked.UsedAsIs {
			c.UsedAsIs = append(c.UsedAsIs, jsonUsedAsIs{toJSON([]finding.Finding{u.Finding})[0], u.Because})
		}
	} else {
		c.NotChecked = append(c.NotChecked, jsonNotChecked{File: e.Text.File, Line: 1, Column: 1, Text: "files, meshes and counts: mend the manifest first"})
	}
	if a.variant != "" {
		var keep []finding.Finding
		for _, f := range c.list {
			if f.Variant == "" || f.Variant == a.variant {
				keep = append(keep, f)
			}
		}
		c.list = keep
	}
	finding.Sort(c.list)
	c.Findings = toJSON(c.list)
	return c, nil
}

func (a *app) checkText(all []checked, t texts, o checkOptions) {
	for i, c := range all {
		if i > 0 && (len(c.list) > 0 || len(all[i-1].list) > 0) {
			fmt.Fprintln(a.stdout)
		}
		a.ui.findings(c.list, t, o.all)
		for _, n := range c.NotChecked {
			variant := ""
			if n.Variant != "" {
				variant = n.Variant + ": "
			}
			fmt.Fprintf(a.stdout, "%s:%d:%d: not checked: %s%s\n", n.File, n.Line, n.Column, variant, n.Text)
		}
		fmt.Fprintln(a.stdout, summary(c))
	}
}

// summary is one line on one design.
func summary(c checked) string {
	name := strings.TrimSpace(c.Design + " " + c.Revision)
	if name == "" {
		name = "series.yaml"
	}
	var parts []string
	for _, l := range []finding.Level{finding.Error, finding.Warning, finding.Note} {
		if n := finding.Count(c.list, l); n > 0 {
			parts = append(parts, plural(n, l.String()))
		}
	}
	if len(parts) == 0 {
		parts = append(parts, "nothing found")
	}
	if n := len(c.NotChecked); n > 0 {
		parts = append(parts, fmt.Sprintf("%d not checked", n))
	}
	if c.joints > 0 {
		parts = append(parts, plural(c.joints, "joint")+" judged")
	}
	if n := len(c.UsedAsIs); n > 0 {
		parts = append(parts, fmt.Sprintf("%d used as is", n))
	}
	return name + ": " + strings.Join(parts, ", ")
}

func (a *app) checkMarkdown(all []checked) {
	for _, c := range all {
		fmt.Fprintf(a.stdout, "## %s\n\n", summary(c))
		for _, f := range c.list {
			fmt.Fprintf(a.stdout, "- **%s** `%s` at `%s`: %s. %s\n", f.Level, f.Code, f.At, f.Text, f.Hint)
		}
		for _, n := range c.NotChecked {
			fmt.Fprintf(a.stdout, "- not checked: %s\n", n.Text)
		}
		if len(c.list)+len(c.NotChecked) > 0 {
			fmt.Fprintln(a.stdout)
		}
	}
}

func (a *app) listCodes() error {
	if a.format == "json" {
		type row struct {
			Code  string        `json:"code"`
			Level finding.Level `json:"level"`
			Why   string        `json:"why"`
			Rows  []int         `json:"rows,omitempty"` // of the list of published faults, see DEVELOPERS.md
		}
		rows := []row{}
		for _, c := range finding.Codes() {
			rows = append(rows, row{c.Name, c.Level, c.Why, c.Rows})
		}
		return a.asJSON(rows)
	}
	rows := [][]string{{"code", "level", "in short"}}
	for _, c := range finding.Codes() {
		short, _, _ := strings.Cut(c.Why, ". ")
		rows = append(rows, []string{c.Name, c.Level.String(), cut(short, 78)})
	}
	a.ui.table(rows)
	fmt.Fprintln(a.stdout, "\n`dropwright check --why CODE` explains one.")
	return nil
}

func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

func (a *app) whyCode(name string) error {
	c, ok := finding.Lookup(name)
	if !ok {
		hint := "`dropwright check --list` prints the table"
		if near := finding.Nearest(name, finding.Names()); near != "" {
			hint = "did you mean " + near + "?"
		}
		return usage(hint, "no code is called %q", name)
	}
	fmt.Fprintf(a.stdout, "%s (%s)\n\n%s\n", c.Name, c.Level, wrap(c.Why, min(a.ui.width, 100)))
	return nil
}

// wrap breaks a text into lines of at most width columns.
func wrap(s string, width int) string {
	var b strings.Builder
	col := 0
	for i, w := range strings.Fields(s) {
		if i > 0 && col+1+cells(w) > width {
			b.WriteByte('\n')
			col = 0
		} else if i > 0 {
			b.WriteByte(' ')
			col++
		}
		b.WriteString(w)
		col += cells(w)
	}
	return b.String()
}
