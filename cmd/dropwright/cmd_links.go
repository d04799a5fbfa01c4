package main

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dropwright/series/calendar"
	"dropwright/series/target"
)

func (a *app) linksCmd() *cobra.Command {
	var o linkOptions
	var life string
	cmd := &cobra.Command{
		Use:   "links [DESIGN|WEEK…]",
		Short: "make links that open files of a private store for some days",
		Long: `Prints a link for every file of the newest revision that went out to an audience's store, so that its readers
can fetch them from a bucket that nobody else can read. A link lives 7 days at most. Whoever holds it can read the
file, as often as they like, until it dies: send it only to those it is meant for. Links are kept in no ledger,
page, feed or log; with --output they go into a file that only you can read, outside git.

With ` + "`links: 7 days`" + ` on a channel, ` + "`release --due`" + ` keeps such a file for it in store/links, and makes it anew when
something went out or half the links' life is over.`,
		Example: "  dropwright release links                                    # all designs, for the early audience\n" +
			"  dropwright release links vent-minder --for 3d\n  dropwright release links --output ~/links.txt",
		ValidArgsFunction: a.completeDesigns,
		RunE: func(cmd *cobra.Command, args []string) error {
			if life != "" {
				d, err := parseLife(life)
				if err != nil {
					return usage("write days or hours, at most 7 days: --for 3d, --for 12h", "--for: %w", err)
				}
				o.life = d
			}
			return a.links(args, o)
		},
	}
	a.formatFlag(cmd, "text", "json")
	f := cmd.Flags()
	f.StringVar(&o.audience, "audience", calendar.Early, "whose links")
	f.StringVar(&o.channel, "channel", "", "only this channel")
	f.StringVar(&life, "for", "", "how long they live, such as 3d or 12h (default: the channel's `links`, or 7 days)")
	a.outputFlag(cmd, "write them to this file, readable by you alone")
	return cmd
}

// linkOptions are what links take; a life of 0 is the channel's own.
type linkOptions struct {
	audience, channel string
	life              time.Duration
}

// parseLife reads "3d", "3 days", "12h", "30m", from a minute to seven days.
func parseLife(word string) (time.Duration, error) {
	text := strings.ReplaceAll(word, " ", "")
	for _, days := range []string{"days", "day", "d"} {
		if n, ok := strings.CutSuffix(text, days); ok {
			text = ""
			if k, err := strconv.Atoi(n); err == nil && k > 0 && k <= 7 {
				return time.Duration(k) * 24 * time.Hour, nil
			}
			break
		}
	}
	d, err := time.ParseDuration(text)
	if err != nil || d < time.Minute || d > target.MaxLink {
		return 0, fmt.Errorf("expected 1 minute to 7 days, found %q: stores refuse longer links", word)
	}
	return d, nil
}

func (a *app) links(words []string, o linkOptions) error {
	s, err := a.sound()
	if err != nil {
		return err
	}
	defer s.close()
	if a.nowFlag != "" {
		return usage("leave --now away", "stores judge the life of a link by the true time")
	}
	if _, err := a.audience(s, o.audience); err != nil {
		return err
	}
	var names []string
	if len(words) > 0 {
		if names, err = a.choose(s, words, false); err != nil {
			return err
		}
	}
	sheets, err := a.makeLinks(s, names, func(c linked) bool {
		return c.audience == o.audience && (o.channel == "" || c.name == o.channel)
	}, o.life)
	if err != nil {
		return err
	}
	if len(sheets) == 0 {
		return refused("give the audience a place in a store: to: \"s3://BUCKET?region=REGION&profile=NAME\"", "no channel of the %s audience is a store: links are for files that lie in one", o.audience)
	}
	count := 0
	for _, x := range sheets {
		count += x.count()
		if x.borrowed {
			a.ui.say("the key of %s is a borrowed one: the links die with it, perhaps before %s", x.channel.name, x.until.UTC().Format(time.RFC3339))
		}
	}
	if count == 0 {
		return refused("dropwright release lists what is due", "nothing of that went out to the %s audience yet", o.audience)
	}
	if a.output != "" {
		path, data := a.abs(a.output), sheetsText(sheets)
		if a.format == "json" {
			if data, err = json.MarshalIndent(sheetsJSON(sheets), "", "  "); err != nil {
				return machine("", "writing the links: %w", err)
			}
			data = append(data, '\n')
		}
		if err := a.outsideGit(s, path); err != nil {
			return err
		}
		if err := writePrivate(path, data); err != nil {
			return machine("check the folder and its permissions", "writing the links: %w", err)
		}
		a.ui.say("%s in %s, which only you can read", plural(count, "link"), a.shown(path))
		return nil
	}
	if a.format == "json" {
		return a.asJSON(sheetsJSON(sheets))
	}
	_, err = a.stdout.Write(sheetsText(sheets))
	return err
}
