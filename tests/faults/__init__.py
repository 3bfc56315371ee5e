"""What happens when something goes wrong under the service: it is killed, the disk is full, the
clock goes back, two want the same. `python -m tests.faults --rounds 300` kills it many times; the
tests beside it do a little of each."""
