package main
import ("os";"fmt")
func main(){ if err:=rotationCommand().Execute(); err!=nil{fmt.Fprintln(os.Stderr,err);os.Exit(2)} }
