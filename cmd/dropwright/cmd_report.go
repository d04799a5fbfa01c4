package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dropwright/bundle/design"
	"dropwright/bundle/finding"
	"dropwright/series/catalogue"
	"dropwright/series/disk"
	"dropwright/series/ledger"
	"dropwright/series/outlook"
	"dropwright/series/release"
	"dropwright/series/report"
)

func (a *app) reportCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "report",
		Short: "keep what builders report of a design, until a revision answers it",
		Long: `Reports lie beside the design, in designs/NAME/reports.jsonl, under git with it, and never go into a
bundle. A report is open until an entry of the design's changes names it (answers: [r1]; revise --answers
writes it), or until it is closed with a reason. revise and overview show what is open.`,
		Example: "  dropwright report add vent-minder case 1.0.0 \"the USB opening is 1 mm too low\"\n  dropwright report list\n" +
			"  dropwright revise vent-minder patch \"the USB opening is where the socket is\" --answers r1 --now 2027-01-24T09:00:00Z\n  dropwright report close vent-minder r1 --because \"their board had another socket\"",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return usage("`dropwright report add DESIGN PART REVISION \"…\"`, `report list` or `report close DESIGN ID --because \"…\"`", "what is to be done with reports?")
		},
	}
	cmd.AddCommand(a.reportAddCmd(), a.reportListCmd(), a.reportCloseCmd())
	return cmd
}

func (a *app) reportAddCmd() *cobra.Command {
	return &cobra.Command{
		Use:   "add DESIGN|WEEK PART REVISION TEXT",
		Short: "write a report down",
		Long: `PART is a printed or bought part or a fastener of the design, or "all" for none of them; REVISION is what
was built from. The text is one line.`,
		Example:           "  dropwright report add vent-minder case 1.0.0 \"the USB opening is 1 mm too low\"\n  dropwright report add 3 all 1.0.0 \"step 4 comes too early\"",
		Args:              cobra.ExactArgs(4),
		ValidArgsFunction: a.completeReport,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.reportAdd(args) },
	}
}

func (a *app) reportListCmd() *cobra.Command {
	var all bool
	cmd := &cobra.Command{
		Use:               "list [DESIGN|WEEK…]",
		Short:             "print the open reports, of some designs or of all",
		Example:           "  dropwright report list\n  dropwright report list vent-minder --all --format json",
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.reportList(args, all) },
	}
	a.formatFlag(cmd, "text", "json")
	cmd.Flags().BoolVar(&all, "all", false, "print those that are settled too")
	return cmd
}

func (a *app) reportCloseCmd() *cobra.Command {
	var because string
	cmd := &cobra.Command{
		Use:               "close DESIGN|WEEK ID --because TEXT",
		Short:             "settle a report that needs no revision",
		Example:           "  dropwright report close vent-minder r1 --because \"their board had another socket\"",
		Args:              cobra.ExactArgs(2),
		ValidArgsFunction: a.completeDesigns,
		RunE:              func(cmd *cobra.Command, args []string) error { return a.reportClose(args, because) },
	}
	cmd.Flags().StringVar(&because, "because", "", "why no revision is needed, in one line")
	return cmd
}

// completeReport offers a design, then what of it a report can be about.
func (a *app) completeReport(cmd *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective) {
	if len(args) == 0 {
		return a.completeDesigns(cmd, args, word)
	}
	s, err := a.openSeries()
	if err != nil || len(args) != 1 || !s.Has(args[0]) {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	defer s.close()
	e, err := s.Load(args[0])
	if err != nil || e.Design == nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	return reportable(e.Design), cobra.ShellCompDirectiveNoFileComp
}

// reportable are the names that a report can be about.
func reportable(d *design.Design) []string {
	out := []string{report.Whole}
	for _, p := range d.Parts {
		out = append(out, string(p.Name.V))
	}
	for _, b := range d.Bought {
		out = append(out, string(b.Name.V))
	}
	for _, f := range d.Fasteners {
		out = append(out, string(f.Name.V))
	}
	return out
}

// reportsOf opens the design that a word names, with its reports.
func (a *app) reportsOf(s *season, word string) (*catalogue.Entry, []report.Report, error) {
	name, err := a.oneDesign(s, []string{word})
	if err != nil {
		return nil, nil, err
	}
	e, err := s.Load(name)
	if err != nil {
		return nil, nil, machine("check that you may read the folder", "%w", err)
	}
	list, err := report.All(e.FS, e.Design)
	return e, list, a.reportError(s, name, err)
}

// reportError gives a failure to read reports its place and way forward.
func (a *app) reportError(s *season, name string, err error) error {
	var line *report.LineError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &line):
		return unreadable("mend or remove that line; git log -p "+s.Path(name, report.FileName)+" shows when it changed", "%s:%d: %s", s.Path(name, report.FileName), line.Line, line.Why)
	}
	return machine("check that you may read it", "reading %s: %w", s.Path(name, report.FileName), plainly(err))
}

func (a *app) reportAdd(words []string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	e, _, err := a.reportsOf(s, words[0])
	if err != nil {
		return err
	}
	if e.Design == nil {
		return unreadable("dropwright check "+e.Name, "the manifest of %s cannot be read as meant", e.Name)
	}
	rev, err := design.ParseRevision(words[2])
	if err != nil {
		return usage("write the revision that was built from, such as 1.0.0: dropwright report add DESIGN PART REVISION \"…\"", "%s", err)
	}
	known, err := a.builtFrom(s, e)
	if err != nil {
		return err
	}
	if !slices.Contains(known, rev.String()) {
		return usage("it has: "+strings.Join(known, ", "), "%s never had the revision %s", e.Name, rev)
	}
	if names := reportable(e.Design); !slices.Contains(names, words[1]) {
		// A part of an older revision may be gone by now.
		if rev.String() == known[0] || design.Kebab(words[1]) != words[1] {
			hint := "it has: " + strings.Join(names, ", ")
			if near := finding.Nearest(words[1], names); near != "" {
				hint = "did you mean " + near + "? `all` stands for the whole design"
			}
			return usage(hint, "%s has no part %q", e.Name, words[1])
		}
		a.ui.say("note: %s has no part %s now; it is taken for one of %s", e.Name, words[1], rev)
	}
	id := ""
	err = a.addToReports(s, e, func(list []report.Report) (line []byte, err error) {
		line, id, err = report.Add(list, report.Report{At: a.now(), Part: words[1], Revision: rev.String(), Text: words[3]})
		return line, err
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s %s: %s of %s: %s\n", e.Name, id, words[1], rev, strings.TrimSpace(words[3]))
	a.ui.say("it is open until a revision answers it: dropwright revise %s \"…\" --answers %s", e.Name, id)
	return nil
}

// builtFrom is the revisions that somebody can have built: of the manifest, newest first, then what the ledger knows
// beyond them.
func (a *app) builtFrom(s *season, e *catalogue.Entry) ([]string, error) {
	var out []string
	for _, c := range e.Design.Changes {
		out = append(out, c.Revision.V.String())
	}
	for _, rehearsal := range []bool{false, true} {
		log, err := a.readLedger(s, rehearsal)
		if err != nil {
			return nil, err
		}
		for _, x := range log.Entries {
			if x.Kind == ledger.Intent && x.Design == e.Name && !slices.Contains(out, x.Revision) {
				out = append(out, x.Revision)
			}
		}
	}
	return out, nil
}

// addToReports reads the reports under a lock and appends one line, durably. Two runs at once number theirs one
// after the other.
func (a *app) addToReports(s *season, e *catalogue.Entry, line func([]report.Report) ([]byte, error)) error {
	store := filepath.Join(s.dir, release.StoreName)
	if err := release.OpenStore(disk.OS(), store).Ready(); err != nil {
		return machine("check that the series' folder may be written to", "%w", err)
	}
	unlock, err := ledger.Flock(filepath.Join(store, report.FileName))
	if errors.Is(err, ledger.ErrBusy) {
		return refused("run it again", "another run is writing reports")
	} else if err != nil {
		return machine("check that the series' folder may be written to", "%w", err)
	}
	defer unlock()
	list, err := report.All(e.FS, e.Design)
	if err != nil {
		return a.reportError(s, e.Name, err)
	}
	text, err := line(list)
	if err != nil {
		return usage("the text is one line, without control characters", "%s", err)
	}
	if err := appendLine(s, path.Join(catalogue.DesignsDir, e.Name, report.FileName), text); err != nil {
		return machine("check the disk and that the file may be written", "writing %s: %w", s.Path(e.Name, report.FileName), plainly(err))
	}
	return nil
}

// appendLine adds a whole line to a file of the series and returns only when it is on the disk. Where the last line
// lacks its end, as a person's editor may leave it, it gets one.
func appendLine(s *season, name string, text []byte) error {
	f, err := s.root.OpenFile(name, os.O_RDWR|os.O_APPEND|os.O_CREATE, 0o666)
	if err != nil {
		return err
	}
	st, err := f.Stat()
	if err == nil && st.Size() > 0 {
		last := []byte{0}
		if _, err = f.ReadAt(last, st.Size()-1); err == nil && last[0] != '\n' {
			text = append([]byte("\n"), text...)
		}
	}
	if err == nil {
		_, err = f.Write(text)
	}
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// jsonReports is what `report list --format json` prints.
type jsonReports struct {
	Designs []jsonReported `json:"designs"`
	Open    int            `json:"open"`
}

type jsonReported struct {
	Design  string          `json:"design"`
	Reports []report.Report `json:"reports"`
}

func (a *app) reportList(words []string, all bool) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	names, err := a.choose(s, words, true)
	if err != nil {
		return err
	}
	out := jsonReports{Designs: []jsonReported{}}
	rows := [][]string{{"design", "id", "part", "revision", "since", "report"}}
	for _, name := range names {
		e, list, err := a.reportsOf(s, name)
		if err != nil {
			return err
		}
		d := jsonReported{name, []report.Report{}}
		for _, r := range list {
			if !r.Settled() {
				out.Open++
			}
			if r.Settled() && !all {
				continue
			}
			d.Reports = append(d.Reports, r)
			rows = append(rows, []string{name, r.ID, r.Part, r.Revision, r.At.Format("2006-01-02"), r.Text + settledBy(r)})
		}
		if e.Design != nil {
			for _, x := range report.Strays(list, e.Design) {
				a.ui.say("%s: answers names %s, and %s has no such report", x.At, x.V, name)
			}
		}
		if len(d.Reports) > 0 || len(words) > 0 {
			out.Designs = append(out.Designs, d)
		}
	}
	if a.format == "json" {
		return a.asJSON(out)
	}
	if len(rows) == 1 {
		fmt.Fprintln(a.stdout, "no open reports")
		return nil
	}
	a.ui.table(rows)
	return nil
}

// settledBy says what settled a report.
func settledBy(r report.Report) string {
	switch {
	case r.Answered != "":
		return " (answered by " + r.Answered + ")"
	case r.Settled():
		return " (closed: " + r.Because + ")"
	}
	return ""
}

func (a *app) reportClose(words []string, because string) error {
	if strings.TrimSpace(because) == "" {
		return usage("say why: --because \"…\"; what a revision settles is named there instead: dropwright revise "+words[0]+" \"…\" --answers "+words[1], "a report is closed with a reason")
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	e, list, err := a.reportsOf(s, words[0])
	if err != nil {
		return err
	}
	r, err := a.reportCalled(e.Name, list, words[1])
	if err != nil {
		return err
	}
	if r.Settled() {
		fmt.Fprintf(a.stdout, "%s %s is settled already%s\n", e.Name, r.ID, settledBy(r))
		return nil
	}
	if err := a.addToReports(s, e, func([]report.Report) ([]byte, error) { return report.Close(r.ID, a.now(), because) }); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s %s is closed: %s\n", e.Name, r.ID, strings.TrimSpace(because))
	return nil
}

// reportCalled finds a report by its number.
func (a *app) reportCalled(name string, list []report.Report, id string) (report.Report, error) {
	var ids []string
	for _, r := range list {
		if r.ID == id {
			return r, nil
		}
		ids = append(ids, r.ID)
	}
	hint := "it has none: dropwright report add " + name + " PART REVISION \"…\""
	if len(ids) > 0 {
		hint = "it has: " + strings.Join(ids, ", ")
	}
	return report.Report{}, usage(hint, "%s has no report %q", name, id)
}

// answersOf checks the reports that a new revision is to answer, and tells those that stay open.
func (a *app) answersOf(s *season, e *catalogue.Entry, ids []string) error {
	list, err := report.All(e.FS, e.Design)
	if err != nil {
		return a.reportError(s, e.Name, err)
	}
	for _, id := range ids {
		r, err := a.reportCalled(e.Name, list, id)
		if err != nil {
			return err
		}
		if r.Answered != "" {
			return usage("leave it out of --answers", "%s %s is answered by %s already", e.Name, id, r.Answered)
		}
	}
	for _, r := range list {
		if !r.Settled() && !slices.Contains(ids, r.ID) {
			a.ui.say("open: %s, %s of %s: %s", r.ID, r.Part, r.Revision, r.Text)
		}
	}
	return nil
}

// openReports is every open report of the season. One file that cannot be read is said, and the others count.
func (a *app) openReports(s *season) []outlook.Report {
	var out []outlook.Report
	for _, name := range s.Names {
		if _, err := fs.Stat(s.FS, path.Join(catalogue.DesignsDir, name, report.FileName)); errors.Is(err, fs.ErrNotExist) {
			continue // most designs have none, and their manifests need not be decoded for it
		}
		e, list, err := a.reportsOf(s, name)
		if err != nil {
			a.ui.say("note: %v; its reports are left out", err)
			continue
		}
		for _, r := range list {
			if !r.Settled() {
				out = append(out, outlook.Report{Design: e.Name, ID: r.ID, Part: r.Part, Revision: r.Revision, Text: r.Text, At: r.At})
			}
		}
	}
	return out
}
