package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// textsJSON is what "mail texts FILE --json" prints of a file without a fault.
type textsJSON struct {
	File    string `json:"file"`
	Phrases int    `json:"phrases"` // that stand in for built-in ones
}

func mailTextsCommand(a *cli) *cobra.Command {
	language := words.English
	c := &cobra.Command{
		Use:   "texts [file]",
		Short: "Print the phrases that customers read, or check a file of your own",
		Long: `Without a file this prints every phrase that customers read, with its name:
emails, pages, calendars, the delivery sheet and why something is due. Copy those
that you want otherwise into a file of your own, change them, and name the file in
the settings: [files] texts. What the file leaves out stays as it is. --language
prints those of another language, in the tables that a file of your own has them
in: [fr.greeting].

With a file it names each phrase that there is not, and each word in braces that
nothing fills, in every language.`,
		Example: `  bellbuoy mail texts > all.toml
  bellbuoy mail texts --language fr > all-french.toml
  bellbuoy mail texts our-words.toml`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return a.printTexts(language)
			}
			data, err := os.ReadFile(args[0])
			if err != nil {
				return fmt.Errorf("texts: %w", err)
			}
			own, err := texts.Read(args[0], data)
			if err != nil {
				return err
			}
			return a.done(textsJSON{args[0], own.Own()}, "%s: %d phrases of your own, nothing wrong.", args[0], own.Own())
		},
	}
	c.Flags().StringVar(&language, "language", language, "language of the phrases to print: "+strings.Join(texts.Languages(), ", "))
	return c
}

// tableHead is the line that begins a table of phrases.
var tableHead = regexp.MustCompile(`(?m)^\[`)

// printTexts prints the built-in phrases of a language as a shop's file has them.
func (a *cli) printTexts(language string) error {
	all := texts.File(language)
	if all == nil {
		return usagef("--language %s: want one of %s", language, strings.Join(texts.Languages(), ", "))
	}
	if language != words.English {
		all = tableHead.ReplaceAll(all, []byte("["+language+"."))
	}
	_, err := a.out.Write(all)
	return err
}
