package main

import (
	"bytes"
	"cmp"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"dropwright/bundle/check"
	"dropwright/series/calendar"
	"dropwright/series/catalogue"
	"dropwright/series/stock"
)

func (a *app) ideaCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "idea",
		Short: "keep ideas; turn one into a design",
		Long: `Lists the ideas for designs, the most asked for first. They are kept in ideas.csv beside series.yaml, which a
spreadsheet opens too.`,
		Example: "  dropwright idea add pot-scale \"weighs one pot and tells when it is dry\"\n  dropwright idea take pot-scale 8",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return a.ideaList() },
	}
	a.formatFlag(cmd, "text", "json")
	cmd.AddCommand(a.ideaListCmd(), a.ideaAddCmd(), a.ideaTakeCmd(), a.ideaRemoveCmd())
	return cmd
}

func (a *app) ideaListCmd() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "list the ideas, the most asked for first",
		Example: "  dropwright idea list --format json",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, args []string) error { return a.ideaList() },
	}
	a.formatFlag(cmd, "text", "json")
	return cmd
}

// jsonIdea is one idea.
type jsonIdea struct {
	Name  string `json:"name"`
	Title string `json:"title,omitempty"`
	Week  int    `json:"week,omitempty"`
	Asked int    `json:"asked"`
	Note  string `json:"note,omitempty"`
	Begun bool   `json:"begun"`
}

func (a *app) ideaList() error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	ideas, err := a.ideas(s)
	if err != nil {
		return err
	}
	list := slices.Clone(ideas.List)
	slices.SortStableFunc(list, func(x, y stock.Idea) int { return cmp.Compare(y.Asked, x.Asked) })
	if a.format == "json" {
		out := []jsonIdea{}
		for _, x := range list {
			out = append(out, jsonIdea{x.Name, x.Title, x.Week, x.Asked, x.Note, s.Has(x.Name)})
		}
		return a.asJSON(out)
	}
	if len(list) == 0 {
		fmt.Fprintln(a.stdout, "no ideas yet: `dropwright idea add NAME \"what it is\"`")
		return nil
	}
	rows := [][]string{{"name", "\tasked", "\tweek", "", "note"}}
	for _, x := range list {
		week, state := "", ""
		if x.Week > 0 {
			week = strconv.Itoa(x.Week)
		}
		if s.Has(x.Name) {
			state = "begun"
		} else if w := s.Config.WeekOf(x.Name); w > 0 {
			week, state = strconv.Itoa(w), "promised"
		}
		rows = append(rows, []string{x.Name, "\t" + strconv.Itoa(x.Asked), "\t" + week, state, cut(x.Note, 80)})
	}
	a.ui.table(withoutEmpty(rows))
	return nil
}

func (a *app) ideaAddCmd() *cobra.Command {
	var x stock.Idea
	cmd := &cobra.Command{
		Use:   "add NAME [NOTE]",
		Short: "write an idea down, or that it was asked for once more",
		Long: `Adds an idea to ideas.csv. One that is there already was asked for once more; a new note is added to the one it
has.`,
		Example: "  dropwright idea add pot-scale \"weighs one pot\"\n  dropwright idea add pot-scale --asked 3",
		Args:    cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			x.Name = args[0]
			if len(args) == 2 {
				x.Note = args[1]
			}
			return a.ideaAdd(x)
		},
	}
	cmd.Flags().StringVar(&x.Title, "title", "", "its title; made from the name when left out")
	cmd.Flags().IntVar(&x.Asked, "asked", 1, "how often it was asked for")
	cmd.Flags().IntVar(&x.Week, "week", 0, "the week it is meant for")
	return cmd
}

func (a *app) ideaAdd(x stock.Idea) error {
	if x.Asked < 0 || x.Week < 0 {
		return usage("write 0 or more", "--asked and --week: expected 0 or more")
	}
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	if x.Week > int(s.Config.Calendar.Weeks.V) {
		return usage("`dropwright schedule` prints the weeks", "the season has %d weeks, found week %d", s.Config.Calendar.Weeks.V, x.Week)
	}
	return a.changeIdeas(s, func(l *stock.Ideas) error {
		_, was := l.Get(x.Name)
		if !was {
			x.Title = cmp.Or(x.Title, titleOf(x.Name))
		}
		is, err := l.Add(x)
		if err != nil {
			return err
		}
		verb := "written down"
		if was {
			verb = "asked for once more"
		}
		fmt.Fprintf(a.stdout, "%s: %s, asked for %s\n", is.Name, verb, times(is.Asked))
		return nil
	})
}

// times is "once", "twice", "3 times".
func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func (a *app) ideaRemoveCmd() *cobra.Command {
	return &cobra.Command{
		Use:               "remove NAME",
		Short:             "take an idea off the list",
		Example:           "  dropwright idea remove pot-scale",
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: a.completeIdeas,
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := a.sound()
			if err != nil {
				return err
			}
			defer s.close()
			return a.changeIdeas(s, func(l *stock.Ideas) error {
				x, err := l.Remove(args[0])
				if err == nil {
					fmt.Fprintf(a.stdout, "removed: %s\n", x.Name)
				}
				return err
			})
		},
	}
}

// changeIdeas lets one change of ideas.csv happen, under a lock.
func (a *app) changeIdeas(s *season, change func(*stock.Ideas) error) error {
	name := filepath.Join(s.dir, stock.IdeasFile)
	unlock, err := a.lockFile(name)
	if err != nil {
		return err
	}
	defer unlock()
	l, err := a.ideas(s)
	if err != nil {
		return err
	}
	if err := change(l); err != nil {
		return stockError(err)
	}
	data, err := l.Bytes()
	if err != nil {
		return stockError(err)
	}
	return a.replaceFile(name, data)
}

func (a *app) ideaTakeCmd() *cobra.Command {
	var like string
	cmd := &cobra.Command{
		Use:   "take NAME [WEEK]",
		Short: "turn an idea into a design in a free week",
		Long: `Writes the idea's design folder, as ` + "`new`" + ` does, with its title and its note as the summary, and gives it the
week in series.yaml: the one named, the one it is meant for, or the first free one that lies ahead. An idea that
the calendar has a week for keeps that.`,
		Example:           "  dropwright idea take pot-scale 8\n  dropwright idea take pot-scale --like vent-minder",
		Args:              cobra.RangeArgs(1, 2),
		ValidArgsFunction: a.completeIdeas,
		RunE: func(cmd *cobra.Command, args []string) error {
			week := ""
			if len(args) == 2 {
				week = args[1]
			}
			return a.ideaTake(args[0], week, like)
		},
	}
	cmd.Flags().StringVar(&like, "like", "", "start from this design")
	return cmd
}

func (a *app) ideaTake(name, week, like string) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	ideas, err := a.ideas(s)
	if err != nil {
		return err
	}
	x, ok := ideas.Get(name)
	if !ok {
		_, err := ideas.Remove(name) // for its hint
		return stockError(err)
	}
	if s.Has(name) {
		return refused("`dropwright check "+name+"` says how far it is", "%s is a design already", name)
	}
	if dir := filepath.Join(s.dir, catalogue.DesignsDir, name); exists(dir) {
		return refused("choose another name, or take the folder away", "there is a folder %s already", a.shown(dir))
	}
	cal, err := a.calendar(s)
	if err != nil {
		return err
	}
	number, err := a.freeWeek(s, cal, *x, week)
	if err != nil {
		return err
	}
	if err := a.newDesign(name, like); err != nil {
		return err
	}
	if err := a.filledIn(s, *x, like); err != nil {
		return err
	}
	if s.Config.WeekOf(name) == number {
		fmt.Fprintf(a.stdout, "%s has week %d\n", name, number)
		return nil
	}
	s.close() // the calendar's lines are changed by the command that does just that
	if err := a.scheduleMove(name, moveOptions{to: strconv.Itoa(number)}); err != nil {
		return err
	}
	return nil
}

func exists(name string) bool {
	_, err := os.Lstat(name)
	return err == nil
}

// freeWeek is the week that an idea gets.
func (a *app) freeWeek(s *season, cal *calendar.Calendar, x stock.Idea, word string) (int, error) {
	has := s.Config.WeekOf(x.Name)
	designs := cal.Settings().Designs
	free := func(n int) bool { return n >= 1 && n <= cal.Settings().Weeks && designs[n] == "" }
	var ahead []string
	first := 0
	for _, slot := range cal.Slots() {
		early, _ := slot.Drop(calendar.Early)
		if slot.Design == "" && early.UTC.After(a.now()) {
			ahead = append(ahead, strconv.Itoa(slot.Week))
			if first == 0 {
				first = slot.Week
			}
		}
	}
	hint := "free weeks ahead: " + join(ahead)
	if word == "" {
		switch {
		case has > 0:
			return has, nil
		case free(x.Week):
			return x.Week, nil
		case first > 0:
			return first, nil
		}
		return 0, refused("raise weeks under calendar in series.yaml, or move a design away", "no week that lies ahead is free")
	}
	n, err := strconv.Atoi(word)
	switch {
	case err != nil || n < 1 || n > cal.Settings().Weeks:
		return 0, usage(hint, "expected a week from 1 to %d, found %q", cal.Settings().Weeks, word)
	case has == n:
		return n, nil
	case has > 0:
		return 0, usage("leave the week out, then: dropwright schedule move "+x.Name+" "+word, "%s has week %d", x.Name, has)
	case !free(n):
		return 0, refused(hint, "week %d belongs to %s", n, designs[n])
	}
	return n, nil
}

func join(words []string) string {
	if len(words) == 0 {
		return "none"
	}
	out := words[0]
	for _, w := range words[1:] {
		out += ", " + w
	}
	return out
}

// filledIn puts the idea's title and note into the manifest that was just written for it.
func (a *app) filledIn(s *season, x stock.Idea, like string) error {
	name := filepath.Join(s.dir, catalogue.DesignsDir, x.Name, catalogue.DesignFile)
	data, err := fs.ReadFile(s.FS, path.Join(catalogue.DesignsDir, x.Name, catalogue.DesignFile))
	if err != nil {
		return machine("", "reading %s: %w", a.shown(name), plainly(err))
	}
	after := data
	if x.Title != "" && x.Title != titleOf(x.Name) {
		after = bytes.Replace(after, []byte("title: "+titleOf(x.Name)), []byte("title: "+quoteYAML(x.Title)), 1)
	}
	if x.Note != "" && like == "" {
		after = bytes.Replace(after, []byte("summary: "+check.PlaceholderSummary), []byte("summary: "+quoteYAML(x.Note)), 1)
	}
	if bytes.Equal(after, data) {
		return nil
	}
	return a.replaceFile(name, after)
}

func (a *app) completeIdeas(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
	s, err := a.openSeries()
	if err != nil || len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	defer s.close()
	l, err := a.ideas(s)
	if err != nil {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	return slices.DeleteFunc(l.Names(), s.Has), cobra.ShellCompDirectiveNoFileComp
}
