SECOND: tuple[()] = ()
