package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"lanewright/layout"
)

func layoutCommand() *cobra.Command {
	return group(&cobra.Command{
		Use:   "layout",
		Short: "Check, measure, close, even out and draw a layout",
		Long: "Works on a plan: a TOML file with the kit and the course, called out piece by piece in driving order.\n" +
			"Start one with: lanewright layout new",
	}, layoutCheckCommand(), layoutLengthsCommand(), layoutRoutesCommand(), layoutCloseCommand(), layoutEvenCommand(),
		layoutPlaceCommand(), layoutPartsCommand(), layoutDrawCommand(), layoutNewCommand())
}

// planFileMost bounds what is read: no plan that people write comes near it.
const planFileMost = 16 << 20

// readPlan reads a plan and the kit that it names: a built-in one, or a file beside the plan.
func readPlan(path string) (layout.Plan, layout.Kit, error) {
	data, err := readSmall(path)
	if err != nil {
		return layout.Plan{}, layout.Kit{}, err
	}
	plan, err := layout.ReadPlan(path, data)
	if err != nil {
		return layout.Plan{}, layout.Kit{}, err
	}
	kit, err := kitOf(plan.Kit, filepath.Dir(path))
	if errors.Is(err, errUnknownKit) {
		return layout.Plan{}, layout.Kit{}, &layout.BadFile{File: path, Findings: []layout.Finding{layout.UnknownKit(plan)}}
	}
	if err != nil {
		return layout.Plan{}, layout.Kit{}, fmt.Errorf("%s: %w", path, err)
	}
	return plan, kit, nil
}

var errUnknownKit = errors.New("it is neither built in nor a file")

// kitOf finds a kit by its built-in name, or as a file from the folder of the plan.
func kitOf(name, folder string) (layout.Kit, error) {
	if kit, ok := layout.BuiltinKit(name); ok {
		return kit, nil
	}
	path := name
	if !filepath.IsAbs(path) {
		path = filepath.Join(folder, path)
	}
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return layout.Kit{}, fmt.Errorf("kit %q: %w; the built-in kits are %s", name, errUnknownKit, quotedList(layout.BuiltinKits()))
	}
	data, err := readSmall(path)
	if err != nil {
		return layout.Kit{}, err
	}
	return layout.ReadKit(path, data)
}

// resolvePlan reads and resolves a plan. Findings that mean a wrong file come back as an error.
func resolvePlan(path string) (layout.Track, []layout.Finding, error) {
	plan, kit, err := readPlan(path)
	if err != nil {
		return layout.Track{}, nil, err
	}
	track, findings := layout.Resolve(plan, kit)
	if bad := badInput(findings); len(bad) > 0 {
		return track, findings, &layout.BadFile{File: path, Findings: bad}
	}
	return track, findings, nil
}

// badInput picks the findings that say that the file, not the layout, is wrong.
func badInput(findings []layout.Finding) []layout.Finding {
	var bad []layout.Finding
	for _, f := range findings {
		if f.Level == layout.Error && layout.BadInput(f.Code) {
			bad = append(bad, f)
		}
	}
	return bad
}

func printFindings(w io.Writer, findings []layout.Finding) {
	for _, f := range findings {
		fmt.Fprintf(w, "%s: %s [%s]\n", f.Level, f, f.Code)
	}
}

// readSmall reads a file written by people; one beyond all reason is refused rather than read.
func readSmall(path string) ([]byte, error) {
	if path == "-" {
		return io.ReadAll(io.LimitReader(os.Stdin, planFileMost))
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, missing(err, path)
	}
	if info.IsDir() {
		return nil, fmt.Errorf("%s is a folder; name the file", path)
	}
	if info.Size() > planFileMost {
		return nil, fmt.Errorf("%s is %d MB large; files written by people are at most %d MB here", path, info.Size()>>20, planFileMost>>20)
	}
	return os.ReadFile(path)
}

func quotedList(names []string) string {
	list := ""
	for i, n := range names {
		if i > 0 {
			list += ", "
		}
		list += fmt.Sprintf("%q", n)
	}
	return list
}
