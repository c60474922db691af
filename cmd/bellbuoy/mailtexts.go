package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"bellbuoy/schedule/texts"
)

// textsJSON is what "mail texts FILE --json" prints of a file without a fault.
type textsJSON struct {
	File    string `json:"file"`
	Phrases int    `json:"phrases"` // that stand in for built-in ones
}

func mailTextsCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "texts [file]",
		Short: "Print the phrases of emails, or check a file of your own phrases",
		Long: `Without a file this prints every phrase of the emails, with its name. Copy those
that you want otherwise into a file of your own, change them, and name the file in
the settings: [files] texts. What the file leaves out stays as it is.

With a file it names each phrase that there is not, and each word in braces that
nothing fills.`,
		Example: `  bellbuoy mail texts > all.toml
  bellbuoy mail texts our-words.toml`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				_, err := a.out.Write(texts.File("en"))
				return err
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
}
