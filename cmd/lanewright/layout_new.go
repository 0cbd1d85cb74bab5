package main

import (
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/layout"
)

func layoutNewCommand() *cobra.Command {
	var kit, out, example string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "new",
		Short: "Write a commented plan to start from",
		Long:  "Writes a plan that closes, with comments that say what each line means. The built-in kits are " + quotedList(layout.BuiltinKits()) + ".",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			text, err := starter(kit, example)
			if err != nil {
				return err
			}
			a := newAnswer{Schema: 1, Kit: kit, Example: example, Text: text}
			if example != "" {
				a.Kit = ""
			}
			if asJSON && (out == "" || out == "-") {
				return printJSON(cmd.OutOrStdout(), a)
			}
			if out == "" || out == "-" {
				_, err := fmt.Fprint(cmd.OutOrStdout(), text)
				return err
			}
			if _, err := os.Lstat(out); err == nil {
				return fmt.Errorf("%s is there already; choose another name, it is not written over", out)
			} else if !os.IsNotExist(err) {
				return fmt.Errorf("cannot look at %s: %w", out, err.(*fs.PathError).Err)
			}
			if err := writeWhole(out, []byte(text)); err != nil || !asJSON {
				return err
			}
			a.File = out
			return printJSON(cmd.OutOrStdout(), a)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the plan as a text within JSON")
	cmd.Flags().StringVar(&kit, "kit", "module 90", "a built-in kit or a kit file")
	cmd.Flags().StringVarP(&out, "out", "o", "", "file to write (default: standard output)")
	cmd.Flags().StringVar(&example, "example", "", "write one of the examples instead: "+strings.Join(layout.Examples(), ", "))
	return cmd
}

// newAnswer is what `layout new --json` prints.
type newAnswer struct {
	Schema  int    `json:"schema"`
	Kit     string `json:"kit,omitempty"`
	Example string `json:"example,omitempty"`
	File    string `json:"file,omitempty"` // written, where -o names one
	Text    string `json:"text"`           // the plan, TOML
}

// starter returns a plan for a kit: the sectional one is an oval of its own pieces, the routed one gives lengths and radii.
func starter(kitName, example string) (string, error) {
	if example != "" {
		text, ok := layout.Example(example)
		if !ok {
			return "", fmt.Errorf("there is no example %q; there are %s", example, quotedList(layout.Examples()))
		}
		return string(text), nil
	}
	kit, err := kitOf(kitName, ".")
	if err != nil {
		return "", err
	}
	return starterPlan(kit, kitName), nil
}
