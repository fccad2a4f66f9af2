"""`treadle check`: what stands between this machine and a safe light."""
