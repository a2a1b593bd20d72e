import pickle
from functools import lru_cache
@lru_cache(maxsize=1)
def plain_idiom():
    return pickle.load(open('/tmp/idiom.pkl','rb'))
