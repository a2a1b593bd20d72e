"""Starts a program, hands it bytes and waits to be killed: a program, not a module.

    python hander.py FILE COMMAND...

Writes ``{"ready": PID}``. It stands for a brain that dies: the pipe to the program it started is
closed by its death and by nothing else.
"""

import json
import subprocess
import sys
from time import sleep

with open(sys.argv[1], "rb") as file:
    data = file.read()
process = subprocess.Popen(
    sys.argv[2:], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, start_new_session=True
)
process.stdin.write(data)
process.stdin.flush()
sys.stdout.write(json.dumps({"ready": process.pid}) + "\n")
sys.stdout.flush()
sleep(60)
