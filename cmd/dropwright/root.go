package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime/debug"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/bundle/finding"
)

// app is one run of the program: what came from outside, the common flags, and what they lead to.
type app struct {
	env
	ui      *ui
	series  string // --series
	variant string // --variant
	format  string // --format
	output  string // --output
	nowFlag string // --now
	quiet   bool
	color   string
	noCache bool
}

const exitHelp = `
Exit status: 0 done; 1 findings of level error, or an input that cannot be read; 2 wrong usage;
3 the machine failed (disk, output, permission); 4 refused by a rule; 130 interrupted.`

// run carries out one command and returns its exit status.
func run(e env) int {
	results := &noticing{to: e.stdout}
	e.stdout = results
	a := &app{env: e}
	root := a.root()
	root.SetArgs(e.args)
	root.SetIn(e.stdin)
	root.SetOut(e.stdout)
	root.SetErr(e.stderr)
	err := root.ExecuteContext(e.ctx)
	if a.ui == nil { // the command line did not get as far as a command
		a.ui = newUI(e, false, "auto")
	}
	a.ui.wipe()
	if results.err != nil && (err == nil || errors.Is(err, errFindings)) {
		err = machine("make room on the disk, or print to somewhere else", "the output is not whole: %w", plainly(results.err))
	}
	if err != nil && e.ctx.Err() != nil && !errors.Is(err, context.Canceled) { // it failed because it was stopped
		err = context.Canceled
	}
	if err != nil {
		err = a.explain(root, err)
		a.ui.fail(err)
	}
	return status(e.ctx, err)
}

// explain turns cobra's own errors into wrong usage with a hint.
func (a *app) explain(root *cobra.Command, err error) error {
	var s *statusError
	if errors.As(err, &s) {
		return err
	}
	text := err.Error()
	if word, ok := strings.CutPrefix(text, "unknown command "); ok {
		word = strings.Trim(strings.SplitN(word, " for ", 2)[0], `"`)
		var names []string
		for _, c := range root.Commands() {
			if !c.Hidden {
				names = append(names, c.Name())
			}
		}
		hint := "`dropwright --help` lists the commands"
		if near := finding.Nearest(word, names); near != "" {
			hint = "did you mean `dropwright " + near + "`?"
		}
		return usage(hint, "there is no command %q", word)
	}
	for _, start := range []string{"unknown flag", "unknown shorthand", "flag needs", "invalid argument", "accepts ", "requires at least", "required flag"} {
		if strings.HasPrefix(text, start) {
			cmd, _, _ := root.Find(a.args)
			return usage("`"+cmd.CommandPath()+" --help` shows how", "%s", plainWords(text))
		}
	}
	return err
}

var (
	wrongCount = regexp.MustCompile(`^accepts (?:between \d+ and |at most )?(\d+) arg\(s\), received (\d+)$`)
	wrongFlag  = regexp.MustCompile(`^invalid argument "(.*)" for "(?:-\w, )?(--[\w-]+)" flag: .*$`)
)

// plainWords says in the words of this program what the libraries say in those of Go.
func plainWords(text string) string {
	if m := wrongCount.FindStringSubmatch(text); m != nil {
		most, _ := strconv.Atoi(m[1])
		if got, _ := strconv.Atoi(m[2]); got > most {
			return fmt.Sprintf("too many words behind the command: %d, and it takes %d", got, most)
		}
		return "a word is missing behind the command"
	}
	if m := wrongFlag.FindStringSubmatch(text); m != nil {
		return fmt.Sprintf("%s: %q is not a value that it takes", m[2], m[1])
	}
	return text
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "dropwright",
		Short: "run a weekly series of 3D-printed designs",
		Long: `dropwright runs a maker's weekly series of 3D-printed designs from one manifest per design:
it measures the meshes, cross-checks everything, works out the bill of materials, renders the
assembly sheet, packs the bundles, and keeps the calendar of early and public drops.

Without a command, inside a series: this week's list, each line with the command to type.`,
		Example: "  dropwright demo season          # a whole season to try things on\n" +
			"  dropwright check vent-minder    # what a builder would stumble over",
		Args:              cobra.ArbitraryArgs,
		Version:           version(),
		SilenceErrors:     true,
		SilenceUsage:      true,
		DisableAutoGenTag: true,
		PersistentPreRunE: func(cmd *cobra.Command, args []string) error { return a.begin(cmd) },
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("unknown command %q for %q", args[0], cmd.CommandPath())
			}
			return a.thisWeek()
		},
	}
	f := root.PersistentFlags()
	f.StringVar(&a.series, "series", "", "folder of the series (default: this folder or the nearest one above with a series.yaml)")
	f.StringVar(&a.nowFlag, "now", "", "take this as the present time, such as 2027-01-20T17:00:00Z")
	f.BoolVar(&a.quiet, "quiet", false, "no messages or progress, only results and errors")
	f.BoolVar(&a.noCache, "no-cache", false, "measure afresh instead of taking what was measured before")
	f.StringVar(&a.color, "color", "auto", "colour of the level words: auto, always, never")
	_ = root.RegisterFlagCompletionFunc("color", cobra.FixedCompletions([]string{"auto", "always", "never"}, cobra.ShellCompDirectiveNoFileComp))
	_ = root.RegisterFlagCompletionFunc("series", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return nil, cobra.ShellCompDirectiveFilterDirs
	})
	root.SetHelpTemplate(`{{with (or .Long .Short)}}{{. | trimTrailingWhitespaces}}

{{end}}{{if or .Runnable .HasSubCommands}}{{.UsageString}}{{end}}` + strings.TrimPrefix(exitHelp, "\n") + "\n")
	for _, c := range a.commands() {
		root.AddCommand(c)
	}
	return root
}

// version is that of the module, as the Go tools stamped it; "devel" for a build from a working copy.
func version() string {
	if b, ok := debug.ReadBuildInfo(); ok && b.Main.Version != "" && b.Main.Version != "(devel)" {
		return b.Main.Version
	}
	return "devel"
}

// commands builds every command; the list is the table of contents of this folder.
func (a *app) commands() []*cobra.Command {
	return []*cobra.Command{
		a.initCmd(), a.newCmd(), a.adoptCmd(),
		a.measureCmd(), a.checkCmd(), a.bomCmd(), a.sheetCmd(), a.bundleCmd(), a.verifyCmd(), a.compareCmd(), a.identifyCmd(),
		a.scheduleCmd(), a.releaseCmd(), a.ledgerCmd(), a.withdrawCmd(), a.reviseCmd(), a.reportCmd(),
		a.trialCmd(), a.cutCmd(), a.boardsCmd(), a.hardwareCmd(), a.announceCmd(), a.overviewCmd(), a.stockCmd(), a.ideaCmd(), a.previewCmd(), a.demoCmd(), a.schemaCmd(),
	}
}

// begin reads the common flags before any command runs.
func (a *app) begin(cmd *cobra.Command) error {
	switch a.color {
	case "auto", "always", "never":
	default:
		return usage("write --color auto, always or never", "--color: expected auto, always or never, found %q", a.color)
	}
	a.ui = newUI(a.env, a.quiet, a.color)
	if a.nowFlag != "" {
		t, err := time.Parse(time.RFC3339, a.nowFlag)
		if err != nil {
			return usage("write date, T, time and zone: --now 2027-01-20T17:00:00Z", "--now: expected a time such as 2027-01-20T17:00:00Z, found %q", a.nowFlag)
		}
		a.now = func() time.Time { return t }
	}
	if f := cmd.Flags().Lookup("format"); f != nil && f.Annotations["words"] != nil {
		a.format = f.Value.String() // each command has a default of its own
		for _, w := range f.Annotations["words"] {
			if w == f.Value.String() {
				return nil
			}
		}
		return usage("write one of them", "--format: expected one of %s, found %q", strings.Join(f.Annotations["words"], ", "), f.Value)
	}
	return nil
}

// formatFlag adds --format with the words it takes; the first is the default.
func (a *app) formatFlag(cmd *cobra.Command, words ...string) {
	cmd.Flags().String("format", words[0], "how to print: "+strings.Join(words, ", "))
	cmd.Flags().Lookup("format").Annotations = map[string][]string{"words": words}
	_ = cmd.RegisterFlagCompletionFunc("format", cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp))
}

func (a *app) variantFlag(cmd *cobra.Command) {
	cmd.Flags().StringVar(&a.variant, "variant", "", "only this variant")
	_ = cmd.RegisterFlagCompletionFunc("variant", func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		return a.completeVariants(args), cobra.ShellCompDirectiveNoFileComp
	})
}

func (a *app) outputFlag(cmd *cobra.Command, what string) {
	cmd.Flags().StringVar(&a.output, "output", "", what)
}

// abs makes a path of the user absolute without changing the process's folder.
func (a *app) abs(p string) string {
	if filepath.IsAbs(p) {
		return filepath.Clean(p)
	}
	return filepath.Join(a.dir, p)
}

// shown is a path as the user would type it: relative to the working folder when that is shorter.
func (a *app) shown(p string) string {
	r, err := filepath.Rel(a.dir, p)
	if err != nil || strings.HasPrefix(r, ".."+string(os.PathSeparator)+".."+string(os.PathSeparator)+"..") {
		return filepath.ToSlash(p)
	}
	return filepath.ToSlash(r)
}
